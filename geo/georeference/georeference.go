package georeference

import (
	"fmt"
	"sort"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/locality"
	"wayfall/geo/shape"
	"wayfall/geo/uncertainty"
)

// Options are what a locality does not say itself. The zero Options are the
// strict protocol anywhere.
type Options struct {
	Protocol Protocol
	// Within are regions that the place lies in, as gazetteer.Names takes them.
	Within []string
	// State turns the name or the letters of a state into its ISO 3166-2 code,
	// or "" for anything else. Nil knows none.
	State func(name string) string
	// Near puts features nearer to it first.
	Near *geo.Circle
	// Limit is the greatest number of candidates; 0 is ten.
	Limit int
	// Terms are further doubts that shift every feature: the source of its
	// coordinates, measurement, precision, datum. A carcass that was moved
	// before it was logged, or a fix taken elsewhere, is a term as well.
	Terms []uncertainty.Term
	// NearBy is what "near" is judged to mean, beyond the feature's edge; 0 is
	// five kilometres. Reach is how far a heading without a distance is
	// followed; 0 is ten kilometres. Both are our own choice and flagged.
	NearBy, Reach geo.Metres
}

const (
	defaultLimit  = 10
	defaultNearBy = 5 * geo.Kilometre
	defaultReach  = 10 * geo.Kilometre
	mostSame      = 6   // features of one name that are tried
	mostTries     = 120 // combinations that are tried
)

// Candidate is one way in which the text can be true.
type Candidate struct {
	Form     locality.Form       `json:"form"`
	Circle   geo.Circle          `json:"circle"`
	Terms    []uncertainty.Term  `json:"terms"`
	Protocol string              `json:"protocol"`
	Features []gazetteer.Feature `json:"-"`
	// Sentence says what was understood, for the person.
	Sentence string        `json:"sentence"`
	Flags    []geo.Finding `json:"flags,omitempty"`
	// Strict and Published are the radii by the two protocols, around their
	// own points; they are equal for most forms.
	Strict    geo.Metres `json:"strict_m"`
	Published geo.Metres `json:"published_m"`
	// Region is every place that the words allow.
	Region shape.Region `json:"-"`
}

// Result is a text, what was read in it, and every candidate, likeliest first.
type Result struct {
	Reading    locality.Reading `json:"reading"`
	Candidates []Candidate      `json:"candidates"`
	// Unknown are names that nothing is known of.
	Unknown []locality.Name `json:"unknown,omitempty"`
}

// Engine answers many localities from one set of names and keeps the shapes of
// features that it has met. It may be asked by many at once.
type Engine struct {
	names gazetteer.Names
	known shapes
}

// New makes an engine.
func New(names gazetteer.Names) *Engine { return &Engine{names: names} }

// Of reckons one locality. An error says why there is no candidate; the
// reading is there in any case.
func Of(text string, names gazetteer.Names, o Options) (Result, error) {
	return New(names).Of(text, o)
}

// Of reckons one locality. An error says why there is no candidate; the
// reading is there in any case.
func (e *Engine) Of(text string, o Options) (Result, error) {
	r := Result{Reading: locality.Parse(text)}
	if len(r.Reading.Clauses) == 0 {
		return r, geo.Errorf(geo.NotUnderstood, "%s", whyNothing(r.Reading))
	}
	if e.names == nil {
		return r, geo.Errorf(geo.Unknown, "no list of names is at hand")
	}
	if l, moved := mayMove(r.Reading); moved {
		return r, geo.Errorf(geo.NotUnderstood, "“%s” is not understood (%s) and may say that the place lies elsewhere", l.Text, l.Why)
	}
	o = o.settled()
	q := question{engine: e, options: &o, result: &r}
	q.lookUp()
	if err := q.reckon(); err != nil {
		return r, err
	}
	sort.SliceStable(r.Candidates, func(i, j int) bool { return r.Candidates[i].less(&r.Candidates[j], o.Near) })
	if len(r.Candidates) > o.Limit {
		r.Candidates = r.Candidates[:o.Limit]
	}
	if n := len(r.Candidates); n > 1 {
		for i := range r.Candidates {
			r.Candidates[i].flag("several-readings", fmt.Sprintf("the words fit %d places; a person chooses", n), "common practice")
		}
	}
	return r, nil
}

func (o Options) settled() Options {
	if o.Limit <= 0 {
		o.Limit = defaultLimit
	}
	if o.NearBy <= 0 {
		o.NearBy = defaultNearBy
	}
	if o.Reach <= 0 {
		o.Reach = defaultReach
	}
	return o
}

// mayMove tells whether a part that was not understood may be an offset from
// the only feature that was: it has a number or a heading in it, and nothing
// else says how the place lies to the feature.
func mayMove(r locality.Reading) (locality.Left, bool) {
	for _, c := range r.Clauses {
		switch c.Form {
		case locality.FeatureOnly, locality.Region, locality.OnWay, locality.Elevation:
		default:
			return locality.Left{}, false
		}
	}
	for _, l := range r.Left {
		if locality.MayMove(l.Text) {
			return l, true
		}
	}
	return locality.Left{}, false
}

func whyNothing(r locality.Reading) string {
	if len(r.Left) == 0 {
		return "there are no words"
	}
	l := r.Left[0]
	return fmt.Sprintf("“%s” is not understood: %s", l.Text, l.Why)
}

func (c *Candidate) flag(code, because, cites string) {
	c.Flags = append(c.Flags, geo.Finding{Code: code, Because: because, Cites: cites})
}

// less puts readings with fewer doubts first, then the nearer, then the
// smaller circle.
func (c *Candidate) less(d *Candidate, near *geo.Circle) bool {
	if len(c.Flags) != len(d.Flags) {
		return len(c.Flags) < len(d.Flags)
	}
	if near != nil {
		a, b := away(c.Circle, *near), away(d.Circle, *near)
		if a != b {
			return a < b
		}
	}
	return c.Circle.Radius < d.Circle.Radius
}

// Footprint is the candidate's region as well-known text and GeoJSON, with the
// spatial fit of the circle; fit is 0 and ok false where it is undefined.
func (c *Candidate) Footprint() (wkt string, json []byte, fit float64, ok bool) {
	outline, _ := c.Region.Outline()
	wkt, json = shape.WKT(outline), shape.GeoJSON(outline)
	r := float64(c.Circle.Radius)
	fit, ok = shape.Fit(3.141592653589793*r*r, c.Region.Area(), c.Circle.Radius >= c.Strict)
	return wkt, json, fit, ok
}
