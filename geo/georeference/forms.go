package georeference

import (
	"fmt"
	"math"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/geo/locality"
	"wayfall/geo/shape"
	"wayfall/geo/uncertainty"
)

// Sources of the rules.
const (
	bestPractices = "Chapman & Wieczorek, Georeferencing Best Practices, GBIF Secretariat 2020"
	quickGuide    = "Zermoglio et al., Georeferencing Quick Reference Guide, GBIF Secretariat 2020"
	own           = "our own choice"
)

// clause reckons one clause with the features that were chosen for its names.
func (q *question) clause(c locality.Clause, chosen map[string]*ground) (*Candidate, error) {
	var at []*ground
	for _, n := range c.Names {
		g := chosen[n.Text]
		if g == nil {
			return nil, geo.Errorf(geo.Unknown, "nothing called “%s” is on the list of names", n.Text)
		}
		at = append(at, g)
	}
	out := &Candidate{Form: c.Form, Protocol: q.options.Protocol.String()}
	for _, g := range at {
		out.Features = append(out.Features, g.Feature)
	}
	way := chosen[c.Way.Text]
	if way != nil {
		out.Features = append(out.Features, way.Feature)
	}
	var err error
	switch c.Form {
	case locality.FeatureOnly, locality.Region, locality.OnWay:
		err = q.feature(out, at[0])
	case locality.DistanceAtHeading:
		err = q.offset(out, at, c.Legs[0])
	case locality.DistanceOnly:
		err = q.distance(out, at, c.Legs[0])
	case locality.HeadingOnly:
		err = q.heading(out, at[0], c.Legs[0])
	case locality.AlongWay:
		err = q.along(out, at, way, c)
	case locality.Orthogonal:
		err = q.orthogonal(out, at[0], c.Legs)
	case locality.FromTwo:
		err = q.fromTwo(out, at, c.Legs)
	case locality.Between:
		err = q.between(out, at, way)
	case locality.Near:
		err = q.near(out, at)
	case locality.Junction:
		err = q.junction(out, at)
	case locality.Post:
		err = q.post(out, way, c)
	case locality.SideOf:
		err = q.side(out, at, c.Side)
	default:
		err = geo.Errorf(geo.NotUnderstood, "a clause of this kind is not reckoned")
	}
	return out, err
}

// feature: the corrected centre and the radial.
func (q *question) feature(out *Candidate, g *ground) error {
	out.Sentence = "Somewhere in " + g.Name
	out.Region = g.region.Grown(q.shift)
	out.Circle.Centre = g.centre
	q.sum(out, uncertainty.OfExtent(g.radial, g.Name))
	return nil
}

// sum adds up terms that hold under both protocols, and those of the options.
func (q *question) sum(out *Candidate, terms ...uncertainty.Term) {
	out.Terms = append(append([]uncertainty.Term(nil), terms...), q.options.Terms...)
	r := geo.Metres(0)
	for _, t := range out.Terms {
		r += t.Radius
	}
	out.Circle.Radius, out.Strict, out.Published = r, r, r
}

// start is the ground that a distance is measured from.
func (q *question) start(at []*ground) (*ground, error) {
	if len(at) == 1 {
		return at[0], nil
	}
	c := &Candidate{}
	if err := q.junction(c, at); err != nil {
		return nil, err
	}
	g := &ground{Feature: gazetteer.Feature{Name: "the junction of " + at[0].Name + " and " + at[1].Name}, centre: c.Circle.Centre, radial: c.Circle.Radius - q.shift}
	var err error
	g.region, err = shape.Round(g.centre, g.radial)
	return g, err
}

func stepOf(l locality.Leg) shape.Step {
	return shape.Step{Distance: l.Distance, Half: l.Half, Heading: l.Heading, HalfAngle: l.HalfAngle}
}

// offset: a distance at a heading, by air.
func (q *question) offset(out *Candidate, at []*ground, l locality.Leg) error {
	g, err := q.start(at)
	if err != nil {
		return err
	}
	if out.Circle.Centre, _, err = geodesic.Direct(g.centre, l.Heading, l.Distance); err != nil {
		return err
	}
	out.Sentence = fmt.Sprintf("%s %s %s of %s, by air", l.Number, l.Unit, l.Toward, g.Name)
	from := g.region.Grown(q.shift)
	if out.Strict, err = from.Farthest(stepOf(l), out.Circle.Centre); err != nil {
		return err
	}
	out.Published = folded(l, g.radial+q.shift-q.fine) + q.fine
	if out.Region, err = from.Swept(stepOf(l)); err != nil {
		return err
	}
	q.split(out, g, l)
	return nil
}

// folded is the older published rule for a distance at a heading.
func folded(l locality.Leg, others geo.Metres) geo.Metres {
	return uncertainty.Folded(l.Distance, l.Half, others, l.HalfAngle)
}

// split shows the radius as terms: what is not extent, offset or of the
// options is the heading's.
func (q *question) split(out *Candidate, g *ground, l locality.Leg) {
	out.Circle.Radius = out.Strict
	if q.options.Protocol == Published {
		out.Circle.Radius = out.Published
	}
	extent, offset := uncertainty.OfExtent(g.radial, g.Name), uncertainty.OfOffset(l.Half)
	rest := out.Circle.Radius - extent.Radius - offset.Radius - q.shift
	if rest < 0 {
		extent.Radius, rest = max(0, extent.Radius+rest), 0
		extent.Because += ", in the direction that counts"
	}
	out.Terms = append([]uncertainty.Term{extent, offset}, q.options.Terms...)
	if rest > 0 {
		out.Terms = append(out.Terms, uncertainty.Term{
			Source: uncertainty.Heading, Radius: rest, Cites: bestPractices + ", 3.4.5; derived here by geometry",
			Because: fmt.Sprintf("the heading %s may be off by %g degrees to either side over %.0f m", l.Toward, float64(l.HalfAngle), float64(l.Distance)),
		})
	}
}

// distance: the feature enlarged by the distance.
func (q *question) distance(out *Candidate, at []*ground, l locality.Leg) error {
	g, err := q.start(at)
	if err != nil {
		return err
	}
	out.Sentence = fmt.Sprintf("%s %s from %s, in no stated direction", l.Number, l.Unit, g.Name)
	out.Circle.Centre = g.centre
	if out.Region, err = g.region.Grown(q.shift).Swept(shape.Step{Distance: l.Distance, Half: l.Half, HalfAngle: 180}); err != nil {
		return err
	}
	q.sum(out, uncertainty.OfExtent(g.radial, g.Name), uncertainty.OfOffset(l.Half), uncertainty.Term{
		Source: uncertainty.Heading, Radius: l.Distance, Cites: quickGuide + ", distance only",
		Because: "every direction is possible over the distance",
	})
	return nil
}

// heading: the feature drawn out in a cone. Nothing says how far, so that the
// reach is judged.
func (q *question) heading(out *Candidate, g *ground, l locality.Leg) error {
	out.Sentence = fmt.Sprintf("%s of %s, no distance given", l.Toward, g.Name)
	reach := g.radial + q.options.Reach
	from := g.region.Grown(q.shift)
	cone, err := from.Swept(shape.Step{Distance: reach / 2, Half: reach / 2, Heading: l.Heading, HalfAngle: l.HalfAngle})
	if err != nil {
		return err
	}
	out.Region = cone
	out.flag("reach-judged", fmt.Sprintf("no distance is written; the heading is followed for %.0f km from the middle of %s", float64(reach/geo.Kilometre), g.Name), own+"; "+quickGuide+", 2.2.2, asks to document it")
	return q.fromRegion(out, "the farthest part of a cone from "+g.Name)
}

// fromRegion takes point and radius from a region that already holds the
// options' terms.
func (q *question) fromRegion(out *Candidate, because string) error {
	c, err := out.Region.Circle()
	if err != nil {
		return err
	}
	out.Circle, out.Strict, out.Published = c, c.Radius, c.Radius
	out.Terms = append([]uncertainty.Term{{
		Source: uncertainty.Extent, Radius: max(0, c.Radius-q.shift), Because: because, Cites: quickGuide + ", radial of the shape",
	}}, q.options.Terms...)
	return nil
}

// orthogonal: two distances at right angles, their directions exact.
func (q *question) orthogonal(out *Candidate, g *ground, legs []locality.Leg) error {
	var b shape.Box
	for _, l := range legs {
		switch l.Toward {
		case "N":
			b.North, b.HalfNorth = l.Distance, l.Half
		case "S":
			b.North, b.HalfNorth = -l.Distance, l.Half
		case "E":
			b.East, b.HalfEast = l.Distance, l.Half
		case "W":
			b.East, b.HalfEast = -l.Distance, l.Half
		}
	}
	out.Sentence = fmt.Sprintf("%s %s %s and %s %s %s of %s, by air", legs[0].Number, legs[0].Unit, legs[0].Toward, legs[1].Number, legs[1].Unit, legs[1].Toward, g.Name)
	var err error
	if out.Circle.Centre, err = b.End(g.centre); err != nil {
		return err
	}
	from := g.region.Grown(q.shift)
	strict, err := from.FarthestBox(b, out.Circle.Centre)
	if err != nil {
		return err
	}
	if out.Region, err = from.Boxed(b); err != nil {
		return err
	}
	half := geo.Metres(math.Hypot(float64(b.HalfEast), float64(b.HalfNorth)))
	q.sum(out, uncertainty.OfExtent(g.radial, g.Name), uncertainty.Term{
		Source: uncertainty.Offset, Radius: half, Cites: bestPractices + ", 3.4.6",
		Because: fmt.Sprintf("the two distances are written to the nearest %.3g m and %.3g m", 2*float64(legs[0].Half), 2*float64(legs[1].Half)),
	})
	out.Strict = strict
	if q.options.Protocol == Strict {
		out.Terms[0].Radius += strict - out.Circle.Radius
		out.Circle.Radius = strict
	}
	return nil
}

// fromTwo: the ground that two shifted features share.
func (q *question) fromTwo(out *Candidate, at []*ground, legs []locality.Leg) error {
	out.Sentence = fmt.Sprintf("%s %s %s of %s and %s %s %s of %s", legs[0].Number, legs[0].Unit, legs[0].Toward, at[0].Name, legs[1].Number, legs[1].Unit, legs[1].Toward, at[1].Name)
	var both [2]shape.Region
	for i := range both {
		s := stepOf(legs[i])
		if len(at) == 2 && at[i].Shape != nil {
			s.HalfAngle = 0 // from a line, the distance across it
		}
		var err error
		if both[i], err = at[i].region.Grown(q.shift).Swept(s); err != nil {
			return err
		}
	}
	shared, err := shape.Shared(both[0], both[1])
	if err != nil {
		return err
	}
	if !shared.Known() {
		return geo.Invalidf("%s: the two have no ground in common", out.Sentence)
	}
	out.Region = shared
	return q.fromRegion(out, "the farthest part of the ground that both offsets share")
}
