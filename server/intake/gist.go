package intake

import (
	facts "wayfall/permits/screen/find"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// gist is what intake keeps of what a report says: the values that are shown,
// without who said them, so that many reports fit into memory.
type gist struct {
	tell   facts.Report // what bears on the verdict
	deed   string
	photos []string // digests
}

// reading is a report as it stands in a folded record.
type reading struct {
	gist
	salvager string
	died     record.When
	frozen   record.When
	locality string
	animals  []op.ID
	remarks  []record.Remark
	first    merge.Hand // that wrote to it, of people; zero is nobody
	verdict  op.Value   // the server's newest, "" is none
}

// read reads a report in one pass over its fields. Of several values that
// stand, the one that is shown counts.
func (m *memory) read(s merge.State) reading {
	var r reading
	var place *record.Georeference
	var fix *record.Fix
	for _, f := range s.Fields() {
		r.sawHands(f)
		switch f.Name {
		case "place":
			place = shown(f, fresh[record.Georeference])
		case "fix":
			fix = shown(f, fresh[record.Fix])
		default:
			m.field(&r, f)
		}
	}
	r.tell.Place = placeOf(place, fix)
	return r
}

func (m *memory) field(r *reading, f merge.Field) {
	switch f.Name {
	case "found":
		r.tell.Found = shown(f, fresh[record.When])
	case "taken_at":
		r.tell.TakenAt = shown(f, fresh[record.When])
	case "died":
		r.died = or(shown(f, fresh[record.When]))
	case "frozen":
		r.frozen = or(shown(f, fresh[record.Freeze])).At
	case "taxon":
		r.tell.Taxon = shown(f, m.taxa.of)
	case "count":
		r.tell.Count = or(shown(f, fresh[int]))
	case "condition":
		r.tell.Condition = shown(f, m.conditions.of)
	case "cause":
		r.tell.Cause = shown(f, m.causes.of)
	case "signs":
		r.tell.Signs = shown(f, m.signs.of)
	case "land":
		r.tell.Land = shown(f, m.lands.of)
	case "photos":
		for _, p := range every(f.Elements, fresh[record.Photo]) {
			r.photos = append(r.photos, p.SHA256)
		}
	case "animals":
		r.animals = every(f.Elements, fresh[op.ID])
	case "remarks":
		r.remarks = every(f.Events, fresh[record.Remark])
	case "verdicts":
		for _, v := range f.Events {
			if v.By[0].Actor == ServerActor {
				r.verdict = v.JSON
			}
		}
	default:
		m.text(r, f)
	}
}

func (m *memory) text(r *reading, f merge.Field) {
	var to *string
	switch f.Name {
	case "material":
		to = &r.tell.Material
	case "circumstance":
		to = &r.tell.Where
	case "acquired":
		to = &r.tell.Acquired
	case "authority":
		to = &r.tell.Authority
	case "deed":
		to = &r.deed
	case "salvager":
		to = &r.salvager
	case "locality":
		r.locality = or(shown(f, fresh[string]))
		return
	case "band":
		r.tell.Band = or(shown(f, fresh[string]))
		return
	default:
		return
	}
	*to = m.words.one(or(shown(f, fresh[string])))
}

// sawHands notes the person who was first to leave something that stands.
func (r *reading) sawHands(f merge.Field) {
	for _, list := range [][]merge.Value{f.Values, f.Elements, f.Events} {
		for _, v := range list {
			for _, h := range v.By {
				if h.Actor != ServerActor && (r.first.Actor == "" || h.LSN != 0 && h.LSN < r.first.LSN) {
					r.first = h
				}
			}
		}
	}
}

// shown returns the value of a field that is shown, or nil if nobody wrote one
// that can be read.
func shown[T any](f merge.Field, read func(op.Value) *T) *T {
	for _, v := range f.Values {
		if t := read(v.JSON); t != nil {
			return t
		}
	}
	return nil
}

// every returns the values of a list that can be read.
func every[T any](list []merge.Value, read func(op.Value) *T) []T {
	var out []T
	for _, v := range list {
		if t := read(v.JSON); t != nil {
			out = append(out, *t)
		}
	}
	return out
}

// placeOf is where the report says the animal lay: as worked out, or as the
// device had it. It is nil if nobody said.
func placeOf(worked *record.Georeference, fix *record.Fix) *record.Georeference {
	p := or(worked)
	if !p.Known && fix != nil {
		p.Known, p.Lat, p.Lon, p.Radius, p.Source = true, fix.Lat, fix.Lon, fix.Accuracy, "device"
	}
	if !p.Known && worked == nil {
		return nil
	}
	p.Terms = nil
	return &p
}

// place, taxon and found are the values themselves, zero if nobody said.
func (g *gist) place() record.Georeference  { return or(g.tell.Place) }
func (g *gist) taxon() record.Determination { return or(g.tell.Taxon) }
func (g *gist) found() record.When          { return or(g.tell.Found) }

func or[T any](p *T) (v T) {
	if p != nil {
		v = *p
	}
	return v
}
