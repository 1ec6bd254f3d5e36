package demo

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sort"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// Setup is what pouring needs of its surroundings.
type Setup struct {
	Base  string
	HTTP  *http.Client
	Story scenario.Story
	Today permits.Date // papers are taken as renewed past it; zero: as the story has them
	// Code returns a sign-in code of the person.
	Code func(ctx context.Context, person scenario.Person) (string, error)
	// Place works out the place of a find as the phone's core does.
	Place func(report []op.Act) record.Georeference
	// Step is told how far pouring is, for a progress bar; nil is fine.
	Step func(done, of int, what string)
}

// Outcome is what pouring did, by the keys of the story.
type Outcome struct {
	Finds    map[string]Find   // by report
	Kept     map[string]op.ID  // by animal: the record that bears the bag's tag
	Receipts []oplog.Receipt   // of every pushed operation
	Joined   int               // pairs that were proposed and joined
	Arrivals map[string]string // by arrival: its record
	Numbers  map[string]string // by animal: its catalogue number
}

type pourer struct {
	Setup
	out    Outcome
	phones map[string]*Phone
	people map[string]*Client
	done   int
	total  int
}

// Pour sends the whole story through the interface for programs: the officer
// enters the papers, the phones push their batches, the registrar joins what
// is proposed, receives every arrival, and catalogues what was prepared.
func Pour(ctx context.Context, s Setup) (Outcome, error) {
	p := &pourer{Setup: s, phones: map[string]*Phone{}, people: map[string]*Client{}}
	p.out = Outcome{Finds: map[string]Find{}, Kept: map[string]op.ID{}, Arrivals: map[string]string{}, Numbers: map[string]string{}}
	p.total = len(s.Story.Permits) + len(s.Story.Batches) + len(s.Story.Arrivals) + len(s.Story.Preparations) + 1
	for _, step := range []func(context.Context) error{p.enterPapers, p.borrow, p.pushAll, p.giveBack, p.joinProposed, p.receiveAll, p.prepareAll} {
		if err := step(ctx); err != nil {
			return p.out, err
		}
	}
	return p.out, nil
}

func (p *pourer) step(what string) {
	p.done++
	if p.Step != nil {
		p.Step(p.done, p.total, what)
	}
}

func (p *pourer) person(key string) (scenario.Person, error) {
	for _, one := range p.Story.People {
		if one.Key == key {
			return one, nil
		}
	}
	return scenario.Person{}, fmt.Errorf("nobody in the story is called %q", key)
}

// signIn returns a client for the person, and what came with the sign-in when
// a device was named.
func (p *pourer) signIn(ctx context.Context, key string, dev *op.DeviceID) (*Client, string, error) {
	who, err := p.person(key)
	if err != nil {
		return nil, "", err
	}
	code, err := p.Code(ctx, who)
	if err != nil {
		return nil, "", err
	}
	c := &Client{Base: p.Base, HTTP: p.HTTP}
	in := map[string]any{"code": code}
	if dev != nil {
		in["device"] = map[string]any{"id": dev.String(), "name": who.Name + "'s phone"}
	}
	var got struct {
		Access string
		Device struct {
			Prefix string `json:"tag_prefix"`
		}
	}
	if err := c.Do(ctx, http.MethodPost, "/v1/sign-in", in, &got); err != nil {
		return nil, "", fmt.Errorf("sign in as %s: %w", who.Name, err)
	}
	c.Access = got.Access
	return c, got.Device.Prefix, nil
}

// as returns a client that speaks as the person, signed in once.
func (p *pourer) as(ctx context.Context, key string) (*Client, error) {
	if c := p.people[key]; c != nil {
		return c, nil
	}
	c, _, err := p.signIn(ctx, key, nil)
	if err == nil {
		p.people[key] = c
	}
	return c, err
}

func (p *pourer) enterPapers(ctx context.Context) error {
	for _, one := range p.Story.People { // a paper may list only who is known
		if _, err := p.as(ctx, one.Key); err != nil {
			return err
		}
	}
	officer, err := p.as(ctx, "desmond")
	if err != nil {
		return err
	}
	for _, a := range Papers(p.Story, p.Today) {
		if err := officer.Do(ctx, http.MethodPut, "/v1/permits/"+a.ID, a, nil); err != nil {
			return fmt.Errorf("enter %s: %w", a.ID, err)
		}
		p.step("papers")
	}
	return nil
}

// phone returns the device of the story, signed in once. The desk types up
// what came without a phone; it is a device like any other.
func (p *pourer) phone(ctx context.Context, key string) (*Phone, error) {
	if ph := p.phones[key]; ph != nil {
		return ph, nil
	}
	owner := ""
	for _, d := range p.Story.Devices {
		if d.Key == key {
			owner = d.Owner
		}
	}
	dev := deviceOf(key)
	c, prefix, err := p.signIn(ctx, owner, &dev)
	if err != nil {
		return nil, err
	}
	ph := NewPhone(c, dev, owner, p.Story.Institution.Key, prefix)
	p.phones[key] = ph
	return ph, nil
}

func (p *pourer) pushAll(ctx context.Context) error {
	reports := map[string]scenario.Report{}
	for _, r := range p.Story.Reports {
		reports[r.Key] = r
	}
	for _, b := range p.Story.Batches {
		ph, err := p.phone(ctx, b.Device)
		if err != nil {
			return err
		}
		if err := p.pushBatch(ctx, ph, b, reports); err != nil {
			return fmt.Errorf("batch %s: %w", b.Key, err)
		}
		p.step("finds")
	}
	return nil
}

func (p *pourer) pushBatch(ctx context.Context, ph *Phone, b scenario.Batch, reports map[string]scenario.Report) error {
	var photos []scenario.Report
	for _, key := range b.Reports {
		r := reports[key]
		f, err := ph.NewFind(r, p.Place)
		if err != nil {
			return err
		}
		if err := ph.spend(r, &f); err != nil {
			return err
		}
		if _, err := ph.Save(f.Made, f.Groups...); err != nil {
			return err
		}
		p.out.Finds[key] = f
		for i, animal := range r.Truth.Animals {
			if _, have := p.out.Kept[animal]; !have || r.Deed == scenario.Taken {
				p.out.Kept[animal] = f.Animals[i]
			}
		}
		if r.Photo != nil {
			photos = append(photos, r)
		}
	}
	receipts, err := ph.Push(ctx)
	if err != nil {
		return err
	}
	p.out.Receipts = append(p.out.Receipts, receipts...)
	for _, r := range photos {
		if err := ph.Client.PutPhoto(ctx, photoOf(r)); err != nil {
			return fmt.Errorf("photo of %s: %w", r.Key, err)
		}
	}
	return nil
}

// joinProposed accepts every pair that the server proposes.
func (p *pourer) joinProposed(ctx context.Context) error {
	registrar, err := p.as(ctx, "gwendolyn")
	if err != nil {
		return err
	}
	var list struct {
		Items []struct{ ID string }
	}
	if err := registrar.Do(ctx, http.MethodGet, "/v1/review?code=pair_proposed&limit=2000", nil, &list); err != nil {
		return err
	}
	for _, it := range list.Items {
		settle := map[string]any{"how": "same", "note": "both finds compared"}
		if err := registrar.Do(ctx, http.MethodPost, "/v1/review/"+it.ID+"/settle", settle, nil); err != nil {
			return fmt.Errorf("join %s: %w", it.ID, err)
		}
		p.out.Joined++
	}
	p.step("joining")
	return nil
}

func (p *pourer) receiveAll(ctx context.Context) error {
	registrar, err := p.as(ctx, "gwendolyn")
	if err != nil {
		return err
	}
	for _, a := range p.Story.Arrivals {
		if err := p.receive(ctx, registrar, a); err != nil {
			return fmt.Errorf("arrival %s: %w", a.Key, err)
		}
		p.step("arrivals")
	}
	return nil
}

// tagOf is what is written on the bag of the animal.
func (p *pourer) tagOf(animal string) string {
	for _, f := range p.out.Finds {
		for i, id := range f.Animals {
			if id == p.out.Kept[animal] && f.Tags[i] != "" {
				return f.Tags[i].String()
			}
		}
	}
	return ""
}

func (p *pourer) receive(ctx context.Context, registrar *Client, a scenario.Arrival) error {
	from, err := p.person(a.From)
	if err != nil {
		return err
	}
	list := ""
	for _, l := range a.List {
		list += p.tagOf(l.Animal) + " " + l.Text + "\n"
	}
	var begun struct{ ID string }
	if err := registrar.Do(ctx, http.MethodPost, "/v1/arrivals", map[string]any{"from": from.Name, "at": arrivedAt(a), "list": list}, &begun); err != nil {
		return err
	}
	p.out.Arrivals[a.Key] = begun.ID
	for _, b := range a.Bags {
		bag := map[string]any{"tag": p.tagOf(b.Animal), "written": b.Label}
		if err := registrar.Do(ctx, http.MethodPost, "/v1/arrivals/"+begun.ID+"/bags", bag, nil); err != nil {
			return fmt.Errorf("bag of %s: %w", b.Animal, err)
		}
	}
	for _, b := range a.Bags {
		in := map[string]any{"animal": p.out.Kept[b.Animal].String(), "tag": p.tagOf(b.Animal), "freezer": b.Freezer}
		if err := registrar.Do(ctx, http.MethodPost, "/v1/arrivals/"+begun.ID+"/accept", in, nil); err != nil {
			return fmt.Errorf("accept %s: %w", b.Animal, err)
		}
	}
	return nil
}

// arrivedAt is when the bags came, by the clock on the museum's wall.
func arrivedAt(a scenario.Arrival) record.When {
	t, err := time.Parse(time.RFC3339, a.At)
	if err != nil {
		return record.When{}
	}
	local := t.Format("2006-01-02T15:04")
	return record.When{Earliest: local, Latest: local, Precision: record.ToMinute, Zone: t.Format("-07:00")}
}

// addPart adds a part made on the day. A server whose clock stands earlier in
// the story refuses a day that lies ahead of it; there the part is made now.
func addPart(ctx context.Context, by *Client, animal, kind, made string) error {
	part := map[string]any{"type": kind, "made": onDay(made)}
	err := by.Do(ctx, http.MethodPost, "/v1/animals/"+animal+"/parts", part, nil)
	var refused *Problem
	if errors.As(err, &refused) && refused.Status == http.StatusUnprocessableEntity {
		delete(part, "made")
		err = by.Do(ctx, http.MethodPost, "/v1/animals/"+animal+"/parts", part, nil)
	}
	return err
}

// onDay is a day of the story as a record keeps it.
func onDay(day string) record.When {
	return record.When{Earliest: day + "T00:00", Latest: day + "T23:59", Precision: record.ToDay}
}

// partTypes are the preparations of the story in the words of the record.
var partTypes = map[string][]string{
	"skin and partial skeleton": {"skin", "partial_skeleton"}, "full skeleton": {"skeleton"},
	"spread wing and skeleton": {"spread_wing", "skeleton"}, "flat skin": {"flat_skin"},
	"fluid": {"fluid"}, "tissue only": nil,
}

func (p *pourer) prepareAll(ctx context.Context) error {
	registrar, err := p.as(ctx, "gwendolyn")
	if err != nil {
		return err
	}
	preps := append([]scenario.Preparation(nil), p.Story.Preparations...)
	sort.SliceStable(preps, func(i, j int) bool { return preps[i].Finished < preps[j].Finished })
	for _, prep := range preps {
		if err := p.prepare(ctx, registrar, prep); err != nil {
			return fmt.Errorf("preparation %s: %w", prep.Key, err)
		}
		p.step("preparations")
	}
	return nil
}

func (p *pourer) prepare(ctx context.Context, registrar *Client, prep scenario.Preparation) error {
	id := p.out.Kept[prep.Animal].String()
	preparator, err := p.as(ctx, prep.Preparator)
	if err != nil {
		return err
	}
	number := map[string]any{"value": prep.Number}
	if err := preparator.Do(ctx, http.MethodPost, "/v1/animals/"+id+"/fields/preparation_no", number, nil); err != nil {
		return err
	}
	types, known := partTypes[prep.Type]
	if !known {
		return fmt.Errorf("%q is not a preparation this loader knows", prep.Type)
	}
	for range prep.Vials {
		types = append(types[:len(types):len(types)], "tissue")
	}
	for _, t := range types {
		if err := addPart(ctx, preparator, id, t, prep.Finished); err != nil {
			return err
		}
	}
	var got struct {
		No string `json:"catalogue_no"`
	}
	err = registrar.Do(ctx, http.MethodPost, "/v1/animals/"+id+"/catalogue", map[string]any{}, &got)
	if err == nil && got.No == "" {
		err = errors.New("no catalogue number came back")
	}
	p.out.Numbers[prep.Animal] = got.No
	return err
}
