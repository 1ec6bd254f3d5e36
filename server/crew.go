package server

import (
	"context"
	"strconv"
	"strings"
	"sync"
	"time"

	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// crew keeps what the judge has to know of people and devices.
type crew struct {
	people *people.Book
	server op.DeviceID
	intake *intake.Intake

	mu    sync.Mutex
	roles map[string]people.Person
}

// refresh reads people and devices anew.
func (c *crew) refresh(ctx context.Context) error {
	all, err := c.people.All(ctx)
	if err != nil {
		return err
	}
	devices, err := c.people.Devices(ctx)
	if err != nil {
		return err
	}
	roles := map[string]people.Person{}
	for _, p := range all {
		roles[p.ID] = p
	}
	known := intake.Crew{Server: c.server, Owner: map[op.DeviceID]string{}, Lost: map[op.DeviceID]bool{}}
	for _, d := range devices {
		if id, err := op.ParseDevice(d.ID); err == nil {
			known.Owner[id] = d.Person
			known.Lost[id] = d.Lost
		}
	}
	for _, p := range all {
		for _, b := range p.Bars {
			known.Bars = append(known.Bars, permits.Bar{Person: p.ID, From: b.From, To: b.To})
		}
	}
	known.May = func(person, field string) bool {
		decided, limited := decides[field]
		p, listed := roles[person]
		return !limited || !listed || p.May(decided...)
	}
	c.mu.Lock()
	c.roles = roles
	c.mu.Unlock()
	c.intake.Meet(known)
	return nil
}

// met is refresh, and judges anew what that changes.
func (c *crew) met(ctx context.Context) error {
	if err := c.refresh(ctx); err != nil {
		return err
	}
	_, err := c.intake.Screen(ctx)
	return err
}

// decides says which roles decide a field; everybody may write the others.
var decides = map[string][]people.Role{
	"animal.catalogue_no":    {people.Registrar},
	"animal.accession_no":    {people.Registrar},
	"animal.intake_no":       {people.Registrar},
	"animal.hold":            {people.Registrar, people.PermitOfficer},
	"animal.confirmed_cause": {people.Registrar, people.Preparator},
	"report.decisions":       {people.PermitOfficer},
	"authority.document":     {people.PermitOfficer},
	"authority.scans":        {people.PermitOfficer},
	"authority.done":         {people.PermitOfficer, people.Registrar},
}

// name is what people call a person, "" for somebody nobody listed.
func (c *crew) name(person string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.roles[person].Name
}

// role says how the rules see a person. Somebody whom the institution does not
// list is of the public.
func (c *crew) role(person string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	p, known := c.roles[person]
	switch {
	case !known || len(p.Roles) == 0:
		return "public"
	case p.May(people.PermitOfficer, people.Registrar, people.Preparator):
		return "staff"
	case p.May(people.Salvager):
		return "volunteer"
	}
	return "public"
}

// tagBook hands out bag tags of the server's own book.
type tagBook struct {
	people *people.Book
	store  people.Store
	device op.DeviceID
}

func (b *tagBook) next(ctx context.Context) (string, error) {
	prefix, err := b.people.Prefix(ctx, b.device.String())
	if err != nil {
		return "", err
	}
	var n uint64
	err = b.store.Change(ctx, "tag book", prefix, func(old []byte) ([]byte, error) {
		if old != nil {
			var err error
			if n, err = strconv.ParseUint(string(old), 10, 32); err != nil {
				return nil, err
			}
		}
		n++
		return strconv.AppendUint(nil, n, 10), nil
	})
	if err != nil {
		return "", err
	}
	t, err := tag.Make(prefix, uint(n))
	return string(t), err
}

// surroundings tell the book of finds in which state and county a place lies
// and how a species is called.
func surroundings(m *region.Map, list *permits.Checklist, zone *time.Location) catalogue.Surroundings {
	out := catalogue.Surroundings{Zone: zone, English: func(name string) string {
		if t := list.Taxon(name); t != nil {
			return t.English
		}
		return ""
	}}
	if m == nil {
		return out
	}
	out.Region = func(g record.Georeference) (state, county string) {
		for _, h := range m.Locate(intake.Circle(g)) {
			switch {
			case h.Level == region.State && state == "":
				state = h.Name
			case h.Level == region.County && county == "":
				county = h.Name
			}
		}
		if state == "" {
			state, county = g.State, strings.TrimSuffix(g.County, " County")
		}
		return state, county
	}
	return out
}
