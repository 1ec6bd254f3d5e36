package intake

import (
	facts "wayfall/permits/screen/find"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// gist is what intake keeps of what a report says: the values that are shown,
// without who said them, so that many reports fit into memory.
type gist struct {
	tell         facts.Report // what bears on the verdict
	died, frozen record.When
	deed         string
	locality     string
	photos       []string // digests
}

func gistOf(r view.Report) gist {
	g := gist{
		tell: facts.Report{Found: said(r.Found), TakenAt: said(r.TakenAt), Taxon: said(r.Taxon), Count: r.Count.Shown,
			Material: r.Material.Shown, Condition: said(r.Condition), Where: r.Circumstance.Shown, Cause: said(r.Cause),
			Signs: said(r.Signs), Band: r.Band.Shown, Land: said(r.Land), Authority: r.Authority.Shown},
		died: r.Died.Shown, frozen: r.Frozen.Shown.At, deed: r.Deed.Shown, locality: r.Locality.Shown,
	}
	if p := placeOf(r); p.Known || r.Place.Known {
		p.Terms = nil
		g.tell.Place = &p
	}
	for _, p := range view.Values(r.Photos) {
		g.photos = append(g.photos, p.SHA256)
	}
	return g
}

// said returns a field that somebody wrote, or nil. It copies the value, so
// that the rest of what was read can be forgotten.
func said[T any](v view.Value[T]) *T {
	if !v.Known {
		return nil
	}
	shown := v.Shown
	return &shown
}

// placeOf is where the report says the animal lay: as worked out, or as the
// device had it.
func placeOf(r view.Report) record.Georeference {
	p := r.Place.Shown
	if fix := r.Fix; !p.Known && fix.Known {
		p.Known, p.Lat, p.Lon, p.Radius, p.Source = true, fix.Shown.Lat, fix.Shown.Lon, fix.Shown.Accuracy, "device"
	}
	return p
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
