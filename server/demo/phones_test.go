package demo_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"net/http"
	"slices"
	"testing"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/server/demo"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// phone enrols a device of the person.
func (m *museum) phone(t *testing.T, person string) *demo.Phone {
	t.Helper()
	i := slices.IndexFunc(m.story.People, func(p scenario.Person) bool { return p.Key == person })
	code, err := demo.Inviter(m.People())(context.Background(), m.story.People[i])
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(t.Name() + person))
	dev := op.DeviceID(sum[:16])
	c := &demo.Client{Base: m.web.URL, HTTP: m.web.Client()}
	var got struct {
		Access, Institution string
		Device              struct {
			Prefix string `json:"tag_prefix"`
		}
	}
	in := map[string]any{"code": code, "device": map[string]any{"id": dev.String(), "name": person}}
	if err := c.Do(context.Background(), http.MethodPost, "/v1/sign-in", in, &got); err != nil {
		t.Fatal(err)
	}
	c.Access = got.Access
	return demo.NewPhone(c, dev, person, got.Institution, got.Device.Prefix)
}

// save makes one operation and pushes it.
func save(t *testing.T, p *demo.Phone, at time.Time, g ...op.Group) op.Op {
	t.Helper()
	o, err := p.Save(at, g...)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func push(t *testing.T, p *demo.Phone) {
	t.Helper()
	if _, err := p.Push(context.Background()); err != nil {
		t.Fatal(err)
	}
}

// said returns the values of a field of an animal, and whether they differ.
func (m *museum) said(t *testing.T, id op.ID, field string) (values []string, differs bool, dots []string) {
	t.Helper()
	var s struct {
		Fields []struct {
			Field   string
			Differs bool
			Said    []struct {
				Value json.RawMessage
				Dot   string
				Who   string
			}
		}
	}
	m.get(t, "/v1/animals/"+id.String(), &s)
	for _, f := range s.Fields {
		if f.Field != field {
			continue
		}
		for _, one := range f.Said {
			values = append(values, string(one.Value)+" by "+one.Who)
			dots = append(dots, one.Dot)
		}
		differs = f.Differs
	}
	slices.Sort(values)
	return values, differs, dots
}

func set(field, value string) op.Act { return op.Set(field, op.Text(value)) }

func TestTwoPhonesEditOneAnimalOffline(t *testing.T) {
	now := time.Date(2025, 10, 20, 15, 0, 0, 0, time.UTC)
	m := open(t, func() time.Time { return now })
	bea, tom := m.phone(t, "bea"), m.phone(t, "tom")
	id := demo.RecordID("animal", t.Name())
	on := func(acts ...op.Act) op.Group { return op.Group{ID: id, Kind: string(record.Animal), Acts: acts} }
	save(t, bea, now, on(op.Set("taxon", `{"name":"Gavia immer","written":"Common Loon"}`), set("disposition", "private_freezer")))
	push(t, bea)

	// Both are offline now, and write different fields.
	save(t, bea, now.Add(time.Minute), on(set("sex", "female")))
	save(t, tom, now.Add(2*time.Minute), on(set("age", "adult")))
	push(t, tom)
	push(t, bea)
	for field, want := range map[string]string{"sex": `"female" by bea`, "age": `"adult" by tom`} {
		if got, differs, _ := m.said(t, id, field); differs || len(got) != 1 || got[0] != want {
			t.Errorf("%s: got %v, differs %v; want %s alone", field, got, differs, want)
		}
	}

	// Both are offline again, and write the same field.
	save(t, bea, now.Add(3*time.Minute), on(set("condition_note", "thin"), set("hold", "none")))
	save(t, tom, now.Add(4*time.Minute), on(set("hold", "case 12")))
	push(t, bea)
	push(t, tom)
	values, differs, dots := m.said(t, id, "hold")
	if want := []string{`"case 12" by tom`, `"none" by bea`}; !slices.Equal(values, want) || !differs {
		t.Fatalf("got %v, differs %v; want both values kept and shown as differing", values, differs)
	}

	// One resolve ends it.
	registrar := m.signIn(t, "gwendolyn")
	in := map[string]any{"value": "case 12", "saw": dots}
	if err := registrar.Do(context.Background(), http.MethodPost, "/v1/animals/"+id.String()+"/fields/hold", in, nil); err != nil {
		t.Fatal(err)
	}
	if got, differs, _ := m.said(t, id, "hold"); differs || len(got) != 1 || got[0] != `"case 12" by gwendolyn` {
		t.Errorf("after one resolve: got %v, differs %v; want the registrar's value alone", got, differs)
	}
}
