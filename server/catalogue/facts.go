package catalogue

import (
	"encoding/json"
	"strings"
	"time"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// heard turns one said value into what a page shows.
func heard[T any](f record.Field, s view.Said[T]) Said {
	out := Said{Value: json.RawMessage(s.Raw), Text: ValueText(f, json.RawMessage(s.Raw)), Who: s.Actor, LSN: s.LSN}
	if s.Device != (op.DeviceID{}) {
		out.Device = s.Device.String()
	}
	if len(s.By) > 0 {
		out.Dot = s.By[0].Dot.String()
	}
	if !s.At.IsZero() {
		out.AtMS, out.Zone = s.At.UnixMilli(), s.At.Format("-07:00")
	}
	return out
}

// local is the civil time at which the value was said: by the clock of the
// device, or at the institution when that was the server, which keeps UTC.
func (s Said) local(institution *time.Location) string {
	if s.AtMS == 0 {
		return ""
	}
	zone := time.UTC
	if t, err := time.Parse("-07:00", s.Zone); err == nil {
		_, seconds := t.Zone()
		zone = time.FixedZone(s.Zone, seconds)
		if seconds == 0 && institution != nil {
			zone = institution
		}
	}
	return time.UnixMilli(s.AtMS).In(zone).Format("2006-01-02T15:04")
}

// factsOf returns every field of a record that anybody wrote to: those of the
// table in its order, then those this release does not know. An authority is
// called by its name.
func (b *Book) factsOf(s merge.State) []Fact {
	out := factsOf(s)
	for i := range out {
		if out[i].Field.Kind == record.Report && out[i].Field.Name == "authority" {
			for k := range out[i].Said {
				out[i].Said[k].Text = upperFirst(strings.TrimPrefix(b.phrase(out[i].Said[k].Text), "the "))
			}
		}
	}
	return out
}

func factsOf(s merge.State) []Fact {
	var out []Fact
	known := map[string]bool{}
	for _, f := range record.Fields {
		if f.Kind == s.Kind {
			known[f.Name] = true
			if fact, any := factOf(s, f); any {
				out = append(out, fact)
			}
		}
	}
	for _, name := range s.Names() {
		if !known[name] {
			if fact, any := factOf(s, record.Field{Kind: s.Kind, Name: name, Label: name + " (not known to this release)"}); any {
				out = append(out, fact)
			}
		}
	}
	return out
}

func factOf(s merge.State, f record.Field) (Fact, bool) {
	fact := Fact{Field: f, Differs: s.Field(f.Name).Differs()}
	for _, one := range view.Read[json.RawMessage](s, f.Name).All {
		fact.add(f, one)
	}
	for _, one := range view.Elements[json.RawMessage](s, f.Name) {
		fact.add(f, one)
	}
	for _, one := range view.Events[json.RawMessage](s, f.Name) {
		fact.add(f, one)
	}
	return fact, len(fact.Said) > 0
}

// add keeps every hand's dot of one value, so that settling replaces them all.
func (f *Fact) add(field record.Field, one view.Said[json.RawMessage]) {
	f.Said = append(f.Said, heard(field, one))
	for _, h := range one.By {
		f.dots = append(f.dots, h.Dot.String())
	}
}
