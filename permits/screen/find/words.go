package find

import (
	"fmt"
	"slices"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/region"
	"wayfall/geo/uncertainty"
	"wayfall/sync/record"
)

// Names finds named features. It is met by geo/gazetteer. A state is an ISO
// 3166-2 code, or "" for any.
type Names interface {
	// Find returns the point of the feature and the radius that holds all of
	// it. ok is false if no such name is known, or more than one feature bears
	// it.
	Find(name, state string) (at geo.Point, radial geo.Metres, ok bool)
	// All returns every feature of the name.
	All(name, state string) []gazetteer.Place
}

// Flags of a place in words, beside "words-left:…" for each clause that was
// not understood.
const (
	flagLeft      = "words-left:"
	flagWay       = "way-named"         // the distance may run along a road or river; the circle holds that too
	flagNoState   = "state-not-said"    // the name is the only one on the list, and the list is not complete
	flagNoCounty  = "county-not-said"   // no county was there to check the place against
	flagState     = "state-differs"     // two states are named
	flagCounty    = "county-differs"    // two counties are named
	flagNotCounty = "county-unknown"    // the state has no such county
	flagUnseen    = "county-unchecked"  // there were no lines to check the county against
	flagUnknown   = "feature-unknown"   // the name is not on the list
	flagSeveral   = "feature-ambiguous" // more than one place would fit
	flagElsewhere = "place-disagrees"   // the place does not lie in the county or state that is named
)

// fromWords places one distance at a heading from a named town, or the town
// alone, where the rest of the text names the county or the state. Where
// anything is in doubt the words stay words, and the flags say why. The state
// and county that a person named are kept either way.
func (m Map) fromWords(w Whereabouts) record.Georeference {
	t := takeApart(w.Locality)
	g := record.Georeference{Source: "words", State: t.state, County: t.county}
	if w.Place != nil {
		join(&g, &t, w.Place)
	}
	m.checkCounty(&g, &t)
	m.settle(&g, &t)
	for _, c := range t.left {
		g.Flags = append(g.Flags, flagLeft+c)
	}
	return g
}

// settle adds point and circle, or the flag that says why there are none.
func (m Map) settle(g *record.Georeference, t *telling) {
	flag, e := t.doubt, uncertainty.Estimate{}
	if flag == "" && m.Names != nil && t.name() != "" {
		e, flag = m.placed(t, g.State, g.County)
	}
	if !e.Circle.Known() {
		t.unused(flag)
		if flag != "" && !(flag == flagUnknown && t.offset == nil) { // nothing says that a lone clause is a name
			g.Flags = append(g.Flags, flag)
		}
		return
	}
	at := written(e, "words", nil)
	at.State, at.County, at.Flags = g.State, g.County, t.remarks(g)
	at.Protocol += "; " + gazetteer.RadialBasis
	*g = at
}

// join adds what the person named outside the text. Where the two differ,
// neither counts.
func join(g *record.Georeference, t *telling, said *record.Georeference) {
	state := CodeOf(said.State)
	switch {
	case g.State == "":
		g.State = state
	case state != "" && state != g.State:
		g.State, t.doubt = "", flagState
	}
	switch {
	case g.County == "":
		g.County = said.County
		if county := countyClause(said.County); county != "" {
			g.County = county
		}
	case said.County != "" && !sameName(said.County, g.County):
		g.County, t.doubt = "", flagCounty
	}
}

func sameName(a, b string) bool {
	if c := countyClause(a); c != "" {
		a = c
	}
	if c := countyClause(b); c != "" {
		b = c
	}
	return gazetteer.Fold(a) == gazetteer.Fold(b)
}

// checkCounty takes a county for one only if the lines know it, and then
// spells it as they do.
func (m Map) checkCounty(g *record.Georeference, t *telling) {
	if g.County == "" || m.Lines == nil {
		return
	}
	for _, r := range m.Lines.Regions() {
		if r.Level == region.County && (g.State == "" || Code(r.ID) == g.State) && sameName(r.Name, g.County) {
			g.County = r.Name
			return
		}
	}
	t.left = append(t.left, g.County)
	g.County = ""
	if t.doubt == "" {
		t.doubt = flagNotCounty
	}
}

func (t *telling) name() string {
	if t.offset != nil {
		return t.offset.Feature
	}
	return t.feature
}

// unused counts the clause that named no known feature among those left.
func (t *telling) unused(flag string) {
	switch {
	case t.feature != "":
		t.left = append(t.left, t.feature)
	case t.offset != nil && (flag == flagUnknown || flag == ""):
		t.left = append(t.left, t.offset.Verbatim)
	}
}

func (t *telling) remarks(g *record.Georeference) []string {
	var flags []string
	if t.offset != nil && t.way {
		flags = append(flags, flagWay)
	}
	if g.State == "" {
		flags = append(flags, flagNoState)
	}
	if g.County == "" {
		flags = append(flags, flagNoCounty)
	}
	return flags
}

// placed returns the one place that fits the words, the state and the county,
// or the flag that says why there is none.
func (m Map) placed(t *telling, state, county string) (uncertainty.Estimate, string) {
	var none uncertainty.Estimate
	switch {
	case county != "" && m.Lines == nil:
		return none, flagUnseen
	case county != "" && state == "":
		return none, flagNoState // many states have a county of that name
	}
	features := m.Names.All(t.name(), state)
	if len(features) == 0 {
		return none, flagUnknown
	}
	if _, _, sure := m.Names.Find(t.name(), state); !sure && county == "" {
		return none, flagSeveral
	}
	var fit []uncertainty.Estimate
	for _, f := range features {
		if e, err := t.around(f.At, f.Radial()); err == nil && m.agrees(e.Circle, state, county) {
			fit = append(fit, e)
		}
	}
	switch len(fit) {
	case 0:
		return none, flagElsewhere
	case 1:
		return fit[0], ""
	}
	return none, flagSeveral
}

// agrees tells whether the truth may lie in the county, or in the state where
// no county is named. Without lines nothing speaks against it.
func (m Map) agrees(c geo.Circle, state, county string) bool {
	if m.Lines == nil || state == "" {
		return true
	}
	return slices.ContainsFunc(m.Lines.Locate(c), func(h region.Hit) bool {
		if Code(h.ID) != state {
			return false
		}
		return county == "" && h.Level == region.State || h.Level == region.County && sameName(h.Name, county)
	})
}

// around reckons the circle from one feature: the feature alone, a distance at
// a heading by air, or, where a way is spoken of, all that lies within the
// distance, however the way bends. Rules: Chapman & Wieczorek (2020) and
// Zermoglio et al. (2020), "feature only", "distance at a heading", "distance
// only".
func (t *telling) around(at geo.Point, radial geo.Metres) (uncertainty.Estimate, error) {
	switch {
	case t.offset == nil:
		return uncertainty.Combine(at, uncertainty.OfExtent(radial, t.feature))
	case t.way:
		anywhere := uncertainty.Term{
			Source: uncertainty.Heading, Radius: t.offset.Distance,
			Because: fmt.Sprintf("the %.0f m may run along the way that is named, so every heading is possible", float64(t.offset.Distance)),
		}
		return uncertainty.Combine(at, uncertainty.OfExtent(radial, t.offset.Feature), uncertainty.OfOffset(t.offset.Half), anywhere)
	}
	return t.offset.Locate(at, radial)
}
