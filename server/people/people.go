// Package people knows who works with an institution's records: persons and
// their roles, the codes they sign in with, the devices they carry, and the
// tokens and sessions that prove a sign-in.
//
// It promises that no secret rests in readable form (codes, refresh tokens and
// session keys are kept as keyed digests), that a one-time code works once
// even when two devices try it together, that a device belongs to one person
// for ever, and that a bag-tag prefix is given out once. It does not decide
// what a role may do, and it never looks at the clock or rolls dice by itself.
package people

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/server/fault"
)

// Role is what a person does for the institution.
type Role string

// The roles. A person may hold several.
const (
	Salvager      Role = "salvager"
	PermitOfficer Role = "permit_officer"
	Registrar     Role = "registrar"
	Preparator    Role = "preparator"
	Reader        Role = "reader"
)

// Roles is every role this release knows.
var Roles = []Role{Salvager, PermitOfficer, Registrar, Preparator, Reader}

// Person is somebody the institution knows. The zero Person is nobody.
type Person struct {
	ID          string `json:"id"`
	Name        string `json:"name"`
	Institution string `json:"institution"`
	Roles       []Role `json:"roles"`
	Left        bool   `json:"left,omitempty"` // no longer signs in; what they wrote stays
	Bars        []Bar  `json:"bars,omitempty"` // times in which the person may not use permits
}

// Bar is a time in which a person may not use permits, by which document and
// why, both days included. An unknown To is open.
type Bar struct {
	From     permits.Date `json:"from"`
	To       permits.Date `json:"to,omitempty"`
	Document string       `json:"document"`
	Why      string       `json:"why"`
	By       string       `json:"by"`              // who entered it
	Ended    string       `json:"ended,omitempty"` // the document that ended it
}

// May reports whether the person holds one of the roles.
func (p Person) May(any ...Role) bool {
	return slices.ContainsFunc(any, func(r Role) bool { return slices.Contains(p.Roles, r) })
}

// Device is a phone or a browser that writes operations of its own.
type Device struct {
	ID       string `json:"id"` // 22 characters of base64url, 16 bytes
	Person   string `json:"person"`
	Name     string `json:"name"`
	Prefix   string `json:"tag_prefix"` // starts every bag tag the device makes
	Enrolled int64  `json:"enrolled_ms"`
	Lost     bool   `json:"lost,omitempty"` // what it still hands in waits for a person
}

// Store keeps small papers on named shelves. Its implementation passes
// peopletest.Run.
type Store interface {
	// Read returns the paper of that name, or nil when there is none.
	Read(ctx context.Context, shelf, name string) ([]byte, error)
	// Change hands the paper to edit (nil when there is none) and keeps what
	// edit returns, in one step that no other Change can come between. When
	// edit fails nothing is kept and its error comes back.
	Change(ctx context.Context, shelf, name string, edit func(old []byte) ([]byte, error)) error
	// List returns every paper of a shelf by name.
	List(ctx context.Context, shelf string) (map[string][]byte, error)
}

// The shelves. Their names are kept for ever, as stored papers are.
const (
	personShelf  = "person"
	codeShelf    = "sign-in code"
	deviceShelf  = "device"
	prefixShelf  = "tag prefix"
	ownShelf     = "own tag prefix"
	refreshShelf = "refresh token"
	sessionShelf = "desk session"
)

// Terms are what the book needs of its surroundings.
type Terms struct {
	Issuer   string // who signs access tokens; also their audience
	Key      []byte // at least 32 bytes, secret
	Now      func() time.Time
	Chance   io.Reader     // a source of unguessable bytes
	Access   time.Duration // how long an access token lives; 0 is 15 minutes
	Refresh  time.Duration // how long a refresh token lives; 0 is 400 days
	Sessions time.Duration // how long a desk session lives; 0 is 12 hours
}

// Book is the list of people with the keys to sign them in.
type Book struct {
	store Store
	terms Terms
}

// Open returns the book kept in store.
func Open(store Store, terms Terms) (*Book, error) {
	if len(terms.Key) < 32 {
		return nil, fmt.Errorf("the signing key has %d bytes; it needs 32 or more", len(terms.Key))
	}
	if terms.Issuer == "" || terms.Now == nil || terms.Chance == nil {
		return nil, errors.New("an issuer, a clock and a source of chance are needed")
	}
	orElse(&terms.Access, 15*time.Minute)
	orElse(&terms.Refresh, 400*24*time.Hour)
	orElse(&terms.Sessions, 12*time.Hour)
	return &Book{store: store, terms: terms}, nil
}

func orElse(d *time.Duration, usual time.Duration) {
	if *d == 0 {
		*d = usual
	}
}

// Keep adds a person, or replaces what was known of them.
func (b *Book) Keep(ctx context.Context, p Person) error {
	if p.ID == "" || p.Name == "" {
		return fault.New(fault.Invalid, "a person needs an id and a name")
	}
	for _, r := range p.Roles {
		if !slices.Contains(Roles, r) {
			return fault.New(fault.Invalid, "%q is not a role", r)
		}
	}
	return edit(ctx, b.store, personShelf, p.ID, func(was *Person, _ bool) error {
		if p.Bars == nil {
			p.Bars = was.Bars
		}
		*was = p
		return nil
	})
}

// Bar enters that a person may not use permits from a day on. It takes a
// document and a reason.
func (b *Book) Bar(ctx context.Context, id string, bar Bar) error {
	switch {
	case !bar.From.Known():
		return fault.New(fault.Invalid, "say from which day the person may not use permits").At("/from", "missing")
	case bar.To.Known() && bar.To < bar.From:
		return fault.New(fault.Invalid, "it ends before it begins").At("/to", "before from")
	case strings.TrimSpace(bar.Document) == "":
		return fault.New(fault.Invalid, "name the document by which the person may not").At("/document", "missing")
	case strings.TrimSpace(bar.Why) == "":
		return fault.New(fault.Invalid, "say why").At("/why", "missing")
	}
	return b.bars(ctx, id, func(p *Person) error {
		p.Bars = append(p.Bars, bar)
		return nil
	})
}

// EndBar ends the open bars of a person with a day, on a document.
func (b *Book) EndBar(ctx context.Context, id string, last permits.Date, document string) error {
	if !last.Known() || strings.TrimSpace(document) == "" {
		return fault.New(fault.Invalid, "say on which day it ends, and by which document")
	}
	return b.bars(ctx, id, func(p *Person) error {
		ended := false
		for i := range p.Bars {
			if !p.Bars[i].To.Known() && p.Bars[i].From <= last {
				p.Bars[i].To, p.Bars[i].Ended, ended = last, document, true
			}
		}
		if !ended {
			return fault.New(fault.Conflict, "nothing bars this person on that day")
		}
		return nil
	})
}

func (b *Book) bars(ctx context.Context, id string, change func(*Person) error) error {
	return edit(ctx, b.store, personShelf, id, func(p *Person, exists bool) error {
		if !exists {
			return fault.New(fault.Missing, "nobody of that name is known here")
		}
		return change(p)
	})
}

// Person returns the person of that id.
func (b *Book) Person(ctx context.Context, id string) (Person, error) {
	p, ok, err := get[Person](ctx, b.store, personShelf, id)
	if err == nil && !ok {
		err = fault.New(fault.Missing, "nobody of that id is known here")
	}
	return p, err
}

// All returns everybody, by name.
func (b *Book) All(ctx context.Context) ([]Person, error) {
	return list(ctx, b.store, personShelf, func(p Person) string { return p.Name })
}

// digest is what rests in place of a secret. It is keyed, so that a copy of
// the store alone does not let anybody try all short codes.
func (b *Book) digest(of, secret string) string {
	mac := hmac.New(sha256.New, b.terms.Key)
	mac.Write([]byte(of + "\x00" + secret))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// secret draws an unguessable word of 256 bits.
func (b *Book) secret() (string, error) {
	var raw [32]byte
	if _, err := io.ReadFull(b.terms.Chance, raw[:]); err != nil {
		return "", fmt.Errorf("draw a secret: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(raw[:]), nil
}

func (b *Book) nowMS() int64 { return b.terms.Now().UnixMilli() }

func get[T any](ctx context.Context, s Store, shelf, name string) (v T, ok bool, err error) {
	raw, err := s.Read(ctx, shelf, name)
	if err != nil || raw == nil {
		return v, false, err
	}
	if err := json.Unmarshal(raw, &v); err != nil {
		return v, false, fmt.Errorf("read %s: %w", shelf, err)
	}
	return v, true, nil
}

func put[T any](ctx context.Context, s Store, shelf, name string, v T) error {
	return s.Change(ctx, shelf, name, func([]byte) ([]byte, error) { return json.Marshal(v) })
}

// edit changes the paper of that name; fn is told whether it exists.
func edit[T any](ctx context.Context, s Store, shelf, name string, fn func(v *T, exists bool) error) error {
	return s.Change(ctx, shelf, name, func(old []byte) ([]byte, error) {
		var v T
		if old != nil {
			if err := json.Unmarshal(old, &v); err != nil {
				return nil, fmt.Errorf("read %s: %w", shelf, err)
			}
		}
		if err := fn(&v, old != nil); err != nil {
			return nil, err
		}
		return json.Marshal(v)
	})
}

func list[T any](ctx context.Context, s Store, shelf string, by func(T) string) ([]T, error) {
	papers, err := s.List(ctx, shelf)
	if err != nil {
		return nil, err
	}
	out := make([]T, 0, len(papers))
	for name, raw := range papers {
		var v T
		if err := json.Unmarshal(raw, &v); err != nil {
			return nil, fmt.Errorf("read %s %s: %w", shelf, name, err)
		}
		out = append(out, v)
	}
	sort.Slice(out, func(i, j int) bool { return by(out[i]) < by(out[j]) })
	return out, nil
}
