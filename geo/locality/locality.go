// Package locality takes a place described in words apart.
//
// Parse reads clauses that all hold at once: a feature, a distance at a
// heading, along a way, at right angles, from two features, between, near, a
// junction, a post, a side, a bounded region, a height. Each keeps the words
// that it came from, and the precision of every distance and heading is taken
// from the way it is written. What was not understood is said and never
// guessed. The package knows no names of places: whether a name exists, and
// which place bears it, is for a gazetteer to say. Read is the older reader of
// a single offset.
package locality

import (
	"strings"

	"wayfall/geo"
	"wayfall/geo/uncertainty"
)

// Offset is a distance at a heading from a feature, as written and as
// understood.
type Offset struct {
	// Verbatim is the whole text.
	Verbatim string
	// Number and Unit are the distance as written, without a word of
	// approximation, which changes nothing.
	Number, Unit string
	// Distance is the number in metres; it may be off by Half to either side.
	Distance, Half geo.Metres
	// Toward is the heading as a compass point, such as "NNE".
	Toward string
	// Heading is clockwise from true north; it may be off by HalfAngle to
	// either side.
	Heading, HalfAngle geo.Degrees
	// Feature is the name that follows "of" or "from".
	Feature string
}

// maxText is the longest text that is looked at.
const maxText = 500

// Read reads a locality of the form that the package understands, or returns
// an error of kind NotUnderstood that names the part which stopped it.
func Read(text string) (Offset, error) {
	if len(text) > maxText {
		return Offset{}, geo.Errorf(geo.NotUnderstood, "the text is too long for one offset")
	}
	o := Offset{Verbatim: text}
	rest := withoutApproximation(strings.TrimSpace(text))
	q, rest, err := readQuantity(rest)
	if err != nil {
		return Offset{}, err
	}
	o.Number, o.Unit, o.Distance, o.Half = q.written, q.unit.name, q.metres(), q.half()

	middle, feature, ok := cutAtOf(rest)
	if !ok {
		return Offset{}, geo.Errorf(geo.NotUnderstood, `after the distance a heading and "of" or "from" are expected, not %q`, clip(rest))
	}
	if o.Toward, o.Heading, o.HalfAngle, err = readHeading(middle); err != nil {
		return Offset{}, err
	}
	if o.Feature, err = readFeature(feature); err != nil {
		return Offset{}, err
	}
	return o, nil
}

// Locate places the offset: the point at the distance and heading from the
// feature, and a radius of the feature's radial, any further terms that shift
// the feature (its datum, its source), the precision of the distance and that
// of the heading.
func (o *Offset) Locate(feature geo.Point, radial geo.Metres, others ...uncertainty.Term) (uncertainty.Estimate, error) {
	if !(o.Distance > 0) {
		return uncertainty.Estimate{}, geo.Errorf(geo.Unknown, "the offset has no distance")
	}
	terms := append([]uncertainty.Term{uncertainty.OfExtent(radial, o.Feature)}, others...)
	shift := geo.Metres(0)
	for _, t := range terms {
		shift += t.Radius
	}
	at, heading, err := uncertainty.OfSector(uncertainty.Sector{
		From: feature, Distance: o.Distance, Heading: o.Heading,
		Half: o.Half, HalfAngle: o.HalfAngle, Shift: shift,
	})
	if err != nil {
		return uncertainty.Estimate{}, err
	}
	return uncertainty.Combine(at, append(terms, uncertainty.OfOffset(o.Half), heading)...)
}

// withoutApproximation drops words such as "about": Chapman & Wieczorek (2020),
// 3.4.6, give them no effect.
func withoutApproximation(s string) string {
	for _, word := range [...]string{"approximately", "approx.", "approx", "about", "circa", "ca.", "ca", "c.", "~"} {
		if len(s) > len(word) && strings.EqualFold(s[:len(word)], word) && !letter(s[len(word)]) {
			return strings.TrimSpace(s[len(word):])
		}
	}
	return s
}

func letter(b byte) bool { return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' }

// cutAtOf divides the rest at the first word "of" or "from".
func cutAtOf(s string) (before, after string, ok bool) {
	at := 0
	for _, word := range strings.Fields(s) {
		at += strings.Index(s[at:], word)
		if strings.EqualFold(word, "of") || strings.EqualFold(word, "from") {
			return strings.TrimSpace(s[:at]), strings.TrimSpace(s[at+len(word):]), true
		}
		at += len(word)
	}
	return "", "", false
}

// readFeature takes the rest as a name, unless it is another offset.
func readFeature(s string) (string, error) {
	s = strings.Trim(s, " \t\r\n,;.")
	if s == "" {
		return "", geo.Errorf(geo.NotUnderstood, "the feature that the distance is measured from is missing")
	}
	if _, rest, err := readQuantity(withoutApproximation(s)); err == nil {
		if _, _, chained := cutAtOf(rest); chained {
			return "", geo.Errorf(geo.NotUnderstood, "one offset starts from another, %q; only one is understood", clip(s))
		}
	}
	return s, nil
}

// clip keeps a quotation short, without cutting a letter in two.
func clip(s string) string {
	const most = 40
	for i := range s {
		if i >= most {
			return s[:i] + "…"
		}
	}
	return s
}
