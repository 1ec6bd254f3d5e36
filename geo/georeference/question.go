package georeference

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/geo/locality"
	"wayfall/geo/shape"
	"wayfall/geo/uncertainty"
)

// ground is a feature with its shape and the circle around that.
type ground struct {
	gazetteer.Feature
	region shape.Region
	centre geo.Point
	radial geo.Metres
	way    shape.Way // where the shape is one line
	isWay  bool
}

// shapes keeps the ground of features by their ID.
type shapes struct {
	mu   sync.RWMutex
	byID map[string]*ground
}

const mostShapes = 20_000

func (s *shapes) of(f gazetteer.Feature) (*ground, error) {
	s.mu.RLock()
	g := s.byID[f.ID]
	s.mu.RUnlock()
	if g != nil && f.ID != "" {
		return g, nil
	}
	g, err := groundOf(f)
	if err != nil || f.ID == "" {
		return g, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.byID == nil || len(s.byID) >= mostShapes {
		s.byID = make(map[string]*ground)
	}
	s.byID[f.ID] = g
	return g, nil
}

func groundOf(f gazetteer.Feature) (*ground, error) {
	g := &ground{Feature: f, centre: f.Point, radial: f.Radial}
	var err error
	if f.Shape == nil {
		if !(f.Radial > 0) {
			return nil, geo.Errorf(geo.Unknown, "how large %s is, is not known", f.Name)
		}
		g.region, err = shape.Round(f.Point, f.Radial)
		return g, err
	}
	if g.region, err = shape.Of(f.Shape); err != nil {
		return nil, err
	}
	c, err := g.region.Circle()
	if err != nil {
		return nil, err
	}
	g.centre, g.radial = c.Centre, c.Radius
	g.way, g.isWay = wayOf(f.Shape)
	return g, nil
}

// question is one text on its way to an answer.
type question struct {
	engine  *Engine
	options *Options
	result  *Result
	found   map[string][]*ground // by name as written
	within  []string
	shift   geo.Metres // the sum of the options' terms
	fine    geo.Metres // the part of it that is precision of coordinates
	tries   int
	said    map[int]string // clauses that only say where to look
	// unchecked are the regions among them that have no outline.
	unchecked []string
	why       string // why the last combination failed
}

// lookUp finds every name of every clause. Regions that the text names narrow
// the search for the others.
func (q *question) lookUp() {
	for _, t := range q.options.Terms {
		q.shift += t.Radius
		if t.Source == uncertainty.Precision {
			q.fine += t.Radius
		}
	}
	q.within = append([]string(nil), q.options.Within...)
	q.found = make(map[string][]*ground, 4)
	q.said = make(map[int]string)
	clauses := q.result.Reading.Clauses
	for i := range clauses {
		q.region(i)
	}
	for i := range clauses {
		if q.said[i] != "" {
			continue
		}
		for _, n := range clauses[i].Names {
			q.find(n)
		}
		if clauses[i].Way.Text != "" {
			q.find(clauses[i].Way)
		}
	}
}

// region takes a clause that names a state, or a region without an outline,
// for where to look for the other names.
func (q *question) region(i int) {
	clauses := q.result.Reading.Clauses
	c := clauses[i]
	if len(clauses) < 2 || c.Form != locality.Region && c.Form != locality.FeatureOnly {
		return
	}
	name := c.Names[0].Text
	if q.options.State != nil && i > 0 {
		if code := q.options.State(name); code != "" {
			q.within, q.said[i] = append(q.within, code), name
			return
		}
	}
	if c.Form == locality.Region && len(q.engine.names.Named(name, q.options.Within, q.options.Near, 1)) == 0 {
		q.within, q.said[i] = append(q.within, name), name
		q.unchecked = append(q.unchecked, name)
	}
}

func (q *question) find(n locality.Name) {
	if _, done := q.found[n.Text]; done {
		return
	}
	features := q.engine.names.Named(n.Text, q.within, q.options.Near, mostSame+1)
	var all []*ground
	for _, f := range features {
		if g, err := q.engine.known.of(f); err == nil {
			all = append(all, g)
		} else {
			q.why = err.Error()
		}
	}
	q.found[n.Text] = all
	if len(all) == 0 {
		q.result.Unknown = append(q.result.Unknown, n)
	}
}

// reckon tries every combination of the features that bear the names.
func (q *question) reckon() error {
	var names []string
	for i, c := range q.result.Reading.Clauses {
		if q.said[i] != "" {
			continue
		}
		for _, n := range append(append([]locality.Name(nil), c.Names...), c.Way) {
			if n.Text != "" && len(q.found[n.Text]) > 0 && !contains(names, n.Text) {
				names = append(names, n.Text)
			}
		}
	}
	chosen := make(map[string]*ground, len(names))
	q.choose(names, chosen)
	if len(q.result.Candidates) > 0 {
		return nil
	}
	if len(q.result.Unknown) > 0 && q.why == "" {
		n := q.result.Unknown[0]
		return geo.Errorf(geo.Unknown, "nothing called “%s” is on the list of names", n.Text)
	}
	if q.why == "" {
		q.why = "the words name no ground"
	}
	return geo.Errorf(geo.Unknown, "%s", q.why)
}

func contains(all []string, s string) bool {
	for _, a := range all {
		if a == s {
			return true
		}
	}
	return false
}

func (q *question) choose(names []string, chosen map[string]*ground) {
	if q.tries >= mostTries {
		return
	}
	if len(names) == 0 {
		q.tries++
		if c, err := q.combine(chosen); err == nil {
			q.result.Candidates = append(q.result.Candidates, c)
		} else {
			q.why = err.Error()
		}
		return
	}
	for _, g := range q.found[names[0]] {
		chosen[names[0]] = g
		q.choose(names[1:], chosen)
	}
	delete(chosen, names[0])
}

// combine reckons each clause and lets them share ground.
func (q *question) combine(chosen map[string]*ground) (Candidate, error) {
	var parts []*Candidate
	for i, c := range q.result.Reading.Clauses {
		if c.Form == locality.Elevation || q.said[i] != "" {
			continue
		}
		p, err := q.clause(c, chosen)
		if err != nil {
			if geo.KindOf(err) == geo.Unknown && len(q.result.Reading.Clauses) > 1 {
				q.why = err.Error()
				parts = append(parts, nil)
				continue
			}
			return Candidate{}, err
		}
		parts = append(parts, p)
	}
	main := q.principal(parts)
	if main < 0 {
		if q.why == "" {
			q.why = "the words name no ground"
		}
		return Candidate{}, geo.Errorf(geo.Unknown, "%s", q.why)
	}
	out := *parts[main]
	cut := false
	for i, p := range parts {
		if p == nil {
			out.flag("clause-unused", "a part of the text could not be placed: "+q.why, "common practice")
			continue
		}
		if i == main || p.Region.Covers(out.Region) {
			continue
		}
		both, err := shape.Shared(out.Region, p.Region)
		if err != nil || !both.Known() {
			return Candidate{}, geo.Errorf(geo.Invalid, "%s and %s have no ground in common", lowerFirst(out.Sentence), lowerFirst(p.Sentence))
		}
		out.Region, cut = both, true
		out.Features = append(out.Features, p.Features...)
		out.Sentence += "; " + lowerFirst(p.Sentence)
		out.Flags = append(out.Flags, p.Flags...)
	}
	if cut {
		if err := q.fromShape(&out); err != nil {
			return Candidate{}, err
		}
	}
	if !(out.Circle.Radius > 0) {
		return Candidate{}, geo.Errorf(geo.Unknown, "nothing says how large the uncertainty is")
	}
	q.remarks(&out)
	return out, nil
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// principal is the clause with the smallest ground.
func (q *question) principal(parts []*Candidate) int {
	best, at := math.Inf(1), -1
	for i, p := range parts {
		if p != nil && float64(p.Strict) < best {
			best, at = float64(p.Strict), i
		}
	}
	return at
}

// fromShape takes point and radius from the region itself.
func (q *question) fromShape(c *Candidate) error {
	circle, err := c.Region.Circle()
	if err != nil {
		return err
	}
	c.Circle, c.Strict, c.Published = circle, circle.Radius, circle.Radius
	c.Terms = []uncertainty.Term{{
		Source: uncertainty.Extent, Radius: circle.Radius,
		Because: "the farthest part of the ground that all parts of the text share, all other doubts drawn into it",
		Cites:   quickGuide + ", intersection of clauses",
	}}
	return nil
}

func (q *question) remarks(c *Candidate) {
	for _, l := range q.result.Reading.Left {
		c.flag("words-left", fmt.Sprintf("“%s” is not understood: %s", l.Text, l.Why), "common practice")
	}
	for _, name := range q.unchecked {
		c.flag("region-unchecked", fmt.Sprintf("no outline of %s is at hand; names were looked for there, and the circle is not held against it", name), own)
	}
	for _, n := range q.result.Unknown {
		c.flag("name-unknown", fmt.Sprintf("nothing called “%s” is on the list of names", n.Text), "common practice")
	}
}

func away(a, b geo.Circle) geo.Metres {
	d, err := geodesic.Distance(a.Centre, b.Centre)
	if err != nil {
		return geo.Metres(math.Inf(1))
	}
	return d
}
