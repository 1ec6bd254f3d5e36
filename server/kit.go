package server

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"sync"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/api"
	"wayfall/server/people"
	"wayfall/server/web"
	"wayfall/sync/record"
)

// kit makes what a phone needs while it has no signal.
type kit struct {
	server *Server
	packs  []File
	taxa   []byte

	once   sync.Once
	digest string // of the boundary lines, "" if there are none
}

type kitBody struct {
	Packs       []json.RawMessage        `json:"packs"`
	Taxa        json.RawMessage          `json:"taxa"`
	Authorities []permits.Authority      `json:"authorities"`
	Tallies     quota.Fixed              `json:"tallies"`
	Grants      *[]api.Share             `json:"grants,omitempty"` // none: this device asks for no shares
	Land        json.RawMessage          `json:"land,omitempty"`   // drawn units of ground
	Bars        []permits.Bar            `json:"bars,omitempty"`   // of the person whose device asks
	Region      regionNote               `json:"region"`
	People      []kitPerson              `json:"people"`
	Words       map[string][]record.Word `json:"words"`
	Institution string                   `json:"institution"`
	AsOf        string                   `json:"as_of"`
}

type regionNote struct {
	URL    string `json:"url"`
	Digest string `json:"digest,omitempty"`
}

type kitPerson struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

var kitWords = map[string][]record.Word{
	"deeds": record.Deeds, "materials": record.Materials, "causes": record.Causes, "circumstances": record.Circumstances,
	"bases": record.Bases, "permissions": record.Permissions, "managers": record.Managers,
	"dispositions": record.Dispositions, "part_types": record.PartTypes, "hazards": record.Hazards,
}

// make returns the kit and the tag under which it is known.
func (k *kit) make(ctx context.Context) ([]byte, string, error) {
	k.once.Do(k.measure)
	s := k.server
	today := s.cfg.Now().In(s.cfg.Zone).Format("2006-01-02")
	papers, tallies, err := s.intake.Papers(ctx, today)
	if err != nil {
		return nil, "", err
	}
	all, err := s.people.All(ctx)
	if err != nil {
		return nil, "", err
	}
	body := kitBody{Packs: []json.RawMessage{}, Taxa: k.taxa, Authorities: papers, Tallies: tallies, Land: s.drawn,
		Region: regionNote{"/field/" + homeLines, k.digest}, People: []kitPerson{}, Words: kitWords,
		Institution: s.cfg.Name, AsOf: today}
	for _, p := range k.packs {
		body.Packs = append(body.Packs, p.Data)
	}
	for _, p := range all {
		body.People = append(body.People, kitPerson{p.ID, p.Name})
	}
	device := api.DeviceOf(ctx)
	if body.Bars, err = s.barsOf(ctx, all, device); err != nil {
		return nil, "", err
	}
	if asks, err := s.lender.asks(ctx, device); err != nil {
		return nil, "", err
	} else if asks {
		held, err := s.lender.Held(ctx, device)
		if err != nil {
			return nil, "", err
		}
		body.Grants = &held
	}
	text, err := json.Marshal(body)
	if err != nil {
		return nil, "", err
	}
	sum := sha256.Sum256(text)
	return text, base64.RawURLEncoding.EncodeToString(sum[:12]), nil
}

// barsOf are the bars of the person whose device it is: nobody else's phone
// needs to know them.
func (s *Server) barsOf(ctx context.Context, all []people.Person, device string) ([]permits.Bar, error) {
	devices, err := s.people.Devices(ctx)
	if err != nil {
		return nil, err
	}
	var out []permits.Bar
	for _, d := range devices {
		for _, p := range all {
			if d.ID != device || p.ID != d.Person {
				continue
			}
			for _, b := range p.Bars {
				out = append(out, permits.Bar{Person: p.ID, From: b.From, To: b.To})
			}
		}
	}
	return out, nil
}

func (k *kit) measure() {
	wire, err := fs.ReadFile(web.Built(), homeLines)
	if err == nil {
		sum := sha256.Sum256(wire)
		k.digest = hex.EncodeToString(sum[:])
	}
}
