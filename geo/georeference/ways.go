package georeference

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/geo/locality"
	"wayfall/geo/shape"
	"wayfall/geo/uncertainty"
)

// wayOf is the one line that a shape is made of.
func wayOf(g orb.Geometry) (shape.Way, bool) {
	line, ok := g.(orb.LineString)
	if many, yes := g.(orb.MultiLineString); yes && len(many) == 1 {
		line, ok = many[0], true
	}
	if !ok {
		return shape.Way{}, false
	}
	w, err := shape.WayOf(line)
	return w, err == nil
}

// line is the ground as one line to follow.
func (g *ground) line() (shape.Way, bool) {
	if g == nil {
		return shape.Way{}, false
	}
	return g.way, g.isWay
}

// along: a distance along a way. Without a line to follow, all that lies
// within the distance is possible, however the way bends.
func (q *question) along(out *Candidate, at []*ground, way *ground, c locality.Clause) error {
	g, err := q.start(at)
	if err != nil {
		return err
	}
	l := c.Legs[0]
	if w, ok := way.line(); ok {
		return q.follow(out, g, way, w, l)
	}
	if q.options.Protocol == Published && l.HalfAngle > 0 {
		if err := q.offset(out, at, l); err != nil {
			return err
		}
		out.flag("way-not-followed", "no line of the way is at hand; the distance is taken by air, whose circle usually holds the way's end", bestPractices+", 2.9.3")
	}
	centre := out.Circle
	out.Sentence = fmt.Sprintf("%s %s %s from %s along a way whose line is not at hand", l.Number, l.Unit, l.Toward, g.Name)
	out.Region = g.region.Grown(q.shift + l.Distance + l.Half)
	strict := g.radial + q.shift + l.Distance + l.Half
	if centre.Known() {
		out.Strict, err = out.Region.Radial(centre.Centre)
		return err
	}
	out.Circle.Centre = g.centre
	q.sum(out, uncertainty.OfExtent(g.radial, g.Name), uncertainty.OfOffset(l.Half), uncertainty.Term{
		Source: uncertainty.Heading, Radius: l.Distance, Cites: "derived here by geometry",
		Because: "the distance may run along a way that bends, so every place within it is possible",
	})
	out.Strict, out.Circle.Radius = strict, strict
	out.Published = max(0, folded(l, g.radial+q.shift-q.fine)+q.fine)
	out.flag("way-not-followed", "no line of the way is at hand; every place within the distance is possible", "derived here by geometry")
	return nil
}

// follow goes along the way from where it passes through the feature. The
// heading only tells which of the two directions is meant.
func (q *question) follow(out *Candidate, g, way *ground, w shape.Way, l locality.Leg) error {
	from, to, ok := w.Inside(g.region)
	if !ok {
		foot, off, err := w.Foot(g.centre)
		if err != nil {
			return err
		}
		if off > g.radial+2*geo.Kilometre {
			return geo.Invalidf("%s does not pass %s", way.Name, g.Name)
		}
		from, to = foot, foot
		out.flag("way-passes-by", fmt.Sprintf("%s does not pass through %s; the distance is counted from the nearest place", way.Name, g.Name), quickGuide+", 2.2.3")
	}
	middle := (from + to) / 2
	var ends []int
	for _, sign := range [...]int{1, -1} {
		if end := middle + geo.Metres(sign)*l.Distance; end >= -l.Half && end <= w.Length()+l.Half {
			ends = append(ends, sign)
		}
	}
	if len(ends) == 2 && l.HalfAngle > 0 {
		sign, err := bySense(w, middle, l)
		if err != nil {
			return err
		}
		ends = []int{sign}
	}
	if len(ends) == 0 {
		return geo.Invalidf("%s ends before %s %s from %s", way.Name, l.Number, l.Unit, g.Name)
	}
	for _, sign := range ends {
		a, b := from+geo.Metres(sign)*l.Distance-l.Half, to+geo.Metres(sign)*l.Distance+l.Half
		part, err := w.Stretch(a, b)
		if err != nil {
			return err
		}
		if out.Region, err = shape.Joined(out.Region, part); err != nil {
			return err
		}
	}
	out.Sentence = fmt.Sprintf("%s %s %s of %s along %s", l.Number, l.Unit, l.Toward, g.Name, way.Name)
	line := out.Region
	out.Region = line.Grown(q.shift)
	if len(ends) == 2 {
		out.flag("direction-unsaid", "both directions along the way are possible", quickGuide+", several possible paths")
		return q.fromRegion(out, "the farthest part of both ends along "+way.Name)
	}
	centre, err := w.At(middle + geo.Metres(ends[0])*l.Distance)
	if err != nil {
		return err
	}
	radial, err := line.Radial(centre)
	if err != nil {
		return err
	}
	half := (to - from) / 2
	out.Circle.Centre = centre
	extent := uncertainty.OfExtent(half, "the part of "+way.Name+" in "+g.Name)
	q.sum(out, extent, uncertainty.OfOffset(l.Half))
	out.Strict = radial + q.shift
	if q.options.Protocol == Strict {
		out.Terms[1].Radius = max(0, radial-half)
		out.Terms[0].Radius = radial - out.Terms[1].Radius
		out.Circle.Radius = out.Strict
	}
	return nil
}

// bySense is the direction along the way whose end lies nearer to the heading.
func bySense(w shape.Way, middle geo.Metres, l locality.Leg) (int, error) {
	start, err := w.At(middle)
	if err != nil {
		return 0, err
	}
	best, sign := math.Inf(1), 1
	for _, s := range [...]int{1, -1} {
		end, err := w.At(middle + geo.Metres(s)*l.Distance)
		if err != nil {
			return 0, err
		}
		line, err := geodesic.Inverse(start, end)
		if err != nil {
			return 0, err
		}
		if off := math.Abs(math.Remainder(float64(line.Depart-l.Heading), 360)); off < best {
			best, sign = off, s
		}
	}
	return sign, nil
}

// between: the midpoint of the two, or the way between them.
func (q *question) between(out *Candidate, at []*ground, way *ground) error {
	a, b := at[0], at[1]
	out.Sentence = "Between " + a.Name + " and " + b.Name
	if w, ok := way.line(); ok {
		out.Sentence += " on " + way.Name
		return q.betweenOn(out, a, b, way, w)
	}
	line, err := geodesic.Inverse(a.centre, b.centre)
	if err != nil {
		return err
	}
	if out.Circle.Centre, _, err = geodesic.Direct(a.centre, line.Depart, line.Distance/2); err != nil {
		return err
	}
	if out.Region, err = shape.Band(a.region, b.region); err != nil {
		return err
	}
	out.Region = out.Region.Grown(q.shift)
	strict, err := out.Region.Radial(out.Circle.Centre)
	if err != nil {
		return err
	}
	q.sum(out, uncertainty.Term{
		Source: uncertainty.Extent, Radius: line.Distance / 2, Because: "half of the distance between " + a.Name + " and " + b.Name, Cites: quickGuide + ", 2.1.3.9",
	})
	out.Strict = strict
	if q.options.Protocol == Strict {
		if more := strict - out.Circle.Radius; more > 0 {
			out.Terms = append(out.Terms, uncertainty.Term{Source: uncertainty.Extent, Radius: more, Because: "the two features' own extents", Cites: "derived here by geometry"})
		}
		out.Circle.Radius = strict
	}
	return nil
}

func (q *question) betweenOn(out *Candidate, a, b, way *ground, w shape.Way) error {
	var low, high geo.Metres = geo.Metres(math.Inf(1)), geo.Metres(math.Inf(-1))
	for _, g := range [...]*ground{a, b} {
		from, to, ok := w.Inside(g.region)
		if !ok {
			foot, off, err := w.Foot(g.centre)
			if err != nil {
				return err
			}
			if off > g.radial+2*geo.Kilometre {
				return geo.Invalidf("%s does not pass %s", way.Name, g.Name)
			}
			from, to = foot, foot
		}
		low, high = min(low, from), max(high, to)
	}
	part, err := w.Stretch(low, high)
	if err != nil {
		return err
	}
	out.Region = part.Grown(q.shift)
	return q.fromRegion(out, "the farthest part of "+way.Name+" between "+a.Name+" and "+b.Name)
}

// Neighbours are names that also know what lies around a place. Where the names
// do, "near" ends half-way to the next feature of the same class: whoever had
// been nearer to that one would have named it.
type Neighbours interface {
	Around(c geo.Circle, class gazetteer.Class, limit int) []gazetteer.Feature
}

// mostNeighbours are tried; farther ones cut nothing that nearer ones leave.
const mostNeighbours = 40

// near: the feature and what is judged to be near it, cut half-way to its
// neighbours.
func (q *question) near(out *Candidate, at []*ground) error {
	g, err := q.start(at)
	if err != nil {
		return err
	}
	out.Sentence = "Near " + g.Name
	out.Region = g.region.Grown(q.shift + q.options.NearBy)
	out.Circle.Centre = g.centre
	q.sum(out, uncertainty.OfExtent(g.radial, g.Name), uncertainty.Term{
		Source: uncertainty.Offset, Radius: q.options.NearBy, Cites: own + "; " + quickGuide + ", near a feature, asks to document it",
		Because: fmt.Sprintf("“near” is judged to mean within %.1f km of its edge", float64(q.options.NearBy/geo.Kilometre)),
	})
	out.flag("near-judged", fmt.Sprintf("how near is not written; %.1f km from the edge of %s is judged", float64(q.options.NearBy/geo.Kilometre), g.Name), own)
	return q.halfway(out, g)
}

// halfway cuts what is near a feature half-way to its neighbours. The feature
// itself and the doubt of the map are never cut.
func (q *question) halfway(out *Candidate, g *ground) error {
	around, ok := q.engine.names.(Neighbours)
	if !ok {
		return nil
	}
	region, cut := out.Region.Core().Grown(g.region.Growth()+q.options.NearBy), false
	for _, f := range around.Around(geo.Circle{Centre: g.centre, Radius: 2 * (g.radial + q.options.NearBy)}, g.Class, mostNeighbours) {
		if f.ID == g.ID || !f.Point.Known() || f.Point == g.centre {
			continue
		}
		half, err := region.Nearer(g.centre, f.Point)
		if err != nil {
			return err
		}
		if half.Known() {
			region, cut = half, true
		}
	}
	if !cut {
		return nil
	}
	whole, err := shape.Joined(region, g.region)
	if err != nil {
		return err
	}
	out.Region = whole.Grown(q.shift)
	return q.fromRegion(out, "the farthest part of what is nearer to "+g.Name+" than to its neighbours")
}

// crossing is what a junction of highways is taken to reach where nothing else
// is known: Zermoglio et al. (2020), 2.1.2.
const crossing = 15 * geo.Metre

// junction: the ground that the two share, not less than a crossing.
func (q *question) junction(out *Candidate, at []*ground) error {
	if len(at) != 2 {
		return geo.Errorf(geo.Unknown, "a junction is of two ways")
	}
	out.Sentence = "The junction of " + at[0].Name + " and " + at[1].Name
	both, err := shape.Shared(at[0].region.Grown(1), at[1].region.Grown(1))
	if err != nil {
		return err
	}
	if !both.Known() {
		return geo.Invalidf("%s and %s do not meet", at[0].Name, at[1].Name)
	}
	c, err := both.Circle()
	if err != nil {
		return err
	}
	out.Circle.Centre = c.Centre
	radial := max(c.Radius, crossing)
	if out.Region, err = shape.Round(c.Centre, radial+q.shift); err != nil {
		return err
	}
	t := uncertainty.OfExtent(radial, "the junction")
	if radial == crossing {
		t.Because, t.Cites = "a junction of highways whose size is not known", quickGuide+", 2.1.2"
	}
	q.sum(out, t)
	return nil
}

// post: a milepost or kilometre post on a way.
func (q *question) post(out *Candidate, way *ground, c locality.Clause) error {
	l := c.Legs[0]
	if way == nil {
		return geo.Errorf(geo.Unknown, "nothing called “%s” is on the list of names", c.Way.Text)
	}
	out.Sentence = fmt.Sprintf("Post %s %s on %s", l.Number, l.Unit, way.Name)
	below, above, err := posts(way.Feature, l)
	if err != nil {
		return err
	}
	w, ok := way.line()
	if !ok {
		return q.postApart(out, below, above, l)
	}
	a, _, err := w.Foot(below.Point)
	if err != nil {
		return err
	}
	b, _, err := w.Foot(above.Point)
	if err != nil {
		return err
	}
	number, per := float64(l.Distance/unitOf(l)), geo.Metres(0)
	at := a
	if above.Number > below.Number {
		per = (b - a) / geo.Metres(above.Number-below.Number)
		at = a + per*geo.Metres(number-below.Number)
	}
	half := max(l.Half, geo.Metres(math.Abs(float64(per)))*l.Half/unitOf(l))
	part, err := w.Stretch(at-half, at+half)
	if err != nil {
		return err
	}
	if out.Circle.Centre, err = w.At(at); err != nil {
		return err
	}
	out.Region = part.Grown(crossing + q.shift)
	radial, err := part.Radial(out.Circle.Centre)
	if err != nil {
		return err
	}
	q.sum(out, uncertainty.OfExtent(crossing, "the road at the post"), uncertainty.Term{
		Source: uncertainty.Offset, Radius: radial, Cites: bestPractices + ", 3.4.6",
		Because: fmt.Sprintf("the post is written to the nearest %.3g m", 2*float64(half)),
	})
	return nil
}

// postApart places a post between its neighbours where the road has no line:
// the road may bend between them.
func (q *question) postApart(out *Candidate, below, above gazetteer.Post, l locality.Leg) error {
	line, err := geodesic.Inverse(below.Point, above.Point)
	if err != nil {
		return err
	}
	share, gap := geo.Metres(0), geo.Metres(0)
	if above.Number > below.Number {
		span := geo.Metres(above.Number-below.Number) * unitOf(l)
		share = (l.Distance - geo.Metres(below.Number)*unitOf(l)) / span
		gap = max(span, line.Distance) / 2
	}
	if out.Circle.Centre, _, err = geodesic.Direct(below.Point, line.Depart, line.Distance*share); err != nil {
		return err
	}
	q.sum(out, uncertainty.OfExtent(crossing, "the road at the post"), uncertainty.OfOffset(l.Half))
	if gap > 0 {
		q.sum(out, uncertainty.OfExtent(crossing, "the road at the post"), uncertainty.OfOffset(l.Half), uncertainty.Term{
			Source: uncertainty.Measurement, Radius: gap, Because: "the road between the two nearest posts may bend", Cites: "derived here by geometry",
		})
	}
	out.Region, err = shape.Round(out.Circle.Centre, out.Circle.Radius)
	return err
}

func unitOf(l locality.Leg) geo.Metres {
	if l.Unit == "km" {
		return geo.Kilometre
	}
	return geo.Mile
}

// posts are the nearest ones on both sides of a number.
func posts(f gazetteer.Feature, l locality.Leg) (below, above gazetteer.Post, err error) {
	number := float64(l.Distance / unitOf(l))
	below.Number, above.Number = math.Inf(-1), math.Inf(1)
	for _, p := range f.Posts {
		if p.Unit != l.Unit {
			continue
		}
		if p.Number <= number+1e-9 && p.Number > below.Number {
			below = p
		}
		if p.Number >= number-1e-9 && p.Number < above.Number {
			above = p
		}
	}
	if !below.Point.Known() || !above.Point.Known() {
		return below, above, geo.Errorf(geo.Unknown, "no posts around %s %s are known on %s", l.Number, l.Unit, f.Name)
	}
	return below, above, nil
}

// side: the part of a feature on one side of its middle.
func (q *question) side(out *Candidate, at []*ground, side string) error {
	if len(at) == 0 {
		return geo.Errorf(geo.Unknown, "of what this is the %s side is not said", side)
	}
	g := at[0]
	heading, ok := headings[side]
	if !ok { // left or right bank: the line is too thin to have sides here
		out.flag("side-unused", "which bank is meant is kept in words; the circle holds both", own)
		return q.feature(out, g)
	}
	if _, line := g.line(); line {
		out.flag("side-unused", "which side is meant is kept in words; the circle holds both", own)
		return q.feature(out, g)
	}
	out.Sentence = "The " + side + " side of " + g.Name
	half, err := g.region.Half(g.centre, heading)
	if err != nil {
		return err
	}
	if !half.Known() {
		return q.feature(out, g)
	}
	out.Region = half.Grown(q.shift)
	return q.fromRegion(out, "the farthest part of the "+side+" half of "+g.Name)
}

var headings = map[string]geo.Degrees{"N": 0, "NNE": 22.5, "NE": 45, "ENE": 67.5, "E": 90, "ESE": 112.5, "SE": 135, "SSE": 157.5, "S": 180, "SSW": 202.5, "SW": 225, "WSW": 247.5, "W": 270, "WNW": 292.5, "NW": 315, "NNW": 337.5}
