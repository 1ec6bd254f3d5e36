package locality

import (
	"fmt"
	"strings"

	"wayfall/geo"
)

// Form is the kind of relation that a clause states. The zero Form is unknown.
type Form uint8

// Forms of clauses.
const (
	UnknownForm Form = iota
	// FeatureOnly is a name and nothing else.
	FeatureOnly
	// DistanceAtHeading is a distance at a heading from a feature.
	DistanceAtHeading
	// DistanceOnly is a distance from a feature in no stated direction.
	DistanceOnly
	// HeadingOnly is a direction from a feature without a distance.
	HeadingOnly
	// AlongWay is a distance along a road, river, trail or beach.
	AlongWay
	// Orthogonal is two distances at right angles from one feature.
	Orthogonal
	// FromTwo is two distances at headings from two features.
	FromTwo
	// Between is between two features.
	Between
	// Near is near a feature.
	Near
	// Junction is where two ways meet.
	Junction
	// Post is a milepost or kilometre post on a way.
	Post
	// SideOf is one side or bank of a feature.
	SideOf
	// OnWay is somewhere on a road, river, trail or beach.
	OnWay
	// Region is a bounded region: a county, a state, a park.
	Region
	// Elevation is a height above the sea.
	Elevation
)

var formNames = [...]string{
	"unknown", "feature", "distance at heading", "distance only", "heading only", "along way", "orthogonal", "from two",
	"between", "near", "junction", "post", "side", "on way", "region", "elevation",
}

// String returns the form in words.
func (f Form) String() string {
	if int(f) < len(formNames) {
		return formNames[f]
	}
	return formNames[0]
}

// MarshalText writes the form in words.
func (f Form) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// Span is where words stand in the text, in bytes.
type Span struct {
	From int `json:"from"`
	To   int `json:"to"`
}

// Name is a feature as written.
type Name struct {
	Text string `json:"text"`
	Span Span   `json:"span"`
}

// Leg is a distance, a heading or both, with the doubt that their writing
// implies.
type Leg struct {
	// Number and Unit are the distance as written; empty where there is none.
	Number string `json:"number,omitempty"`
	Unit   string `json:"unit,omitempty"`
	// Distance may be off by Half to either side.
	Distance geo.Metres `json:"distance,omitempty"`
	Half     geo.Metres `json:"half,omitempty"`
	// Toward is the heading as a compass point or in degrees, or "upstream",
	// "downstream" and the like along a way; "" where none is written.
	Toward string `json:"toward,omitempty"`
	// Heading may be off by HalfAngle to either side.
	Heading   geo.Degrees `json:"heading,omitempty"`
	HalfAngle geo.Degrees `json:"half_angle,omitempty"`
	Span      Span        `json:"span"`
}

// Manner says how a distance was measured. The zero Manner was not said.
type Manner uint8

// Manners.
const (
	Unsaid Manner = iota
	ByAir
	ByWay
)

// Clause is one relation that the text states. All clauses of a text hold at
// once.
type Clause struct {
	Form  Form   `json:"form"`
	Span  Span   `json:"span"`
	Names []Name `json:"names,omitempty"` // what it refers to, in the order of the text
	Legs  []Leg  `json:"legs,omitempty"`
	// Manner is how a distance was measured, and Way the road, river or beach
	// that it follows, or on which a post stands.
	Manner Manner `json:"manner,omitempty"`
	Way    Name   `json:"way,omitzero"`
	// Side is a compass point, "left" or "right" (looking downstream).
	Side string `json:"side,omitempty"`
	// Low and High bound an elevation, in metres.
	Low  geo.Metres `json:"low,omitempty"`
	High geo.Metres `json:"high,omitempty"`
}

// String writes the clause in one fixed way, for tests and for a person who
// wants to see what was understood.
func (c Clause) String() string {
	var b strings.Builder
	b.WriteString(c.Form.String())
	for _, l := range c.Legs {
		b.WriteString(" | " + l.String())
	}
	for _, n := range c.Names {
		b.WriteString(" | " + n.Text)
	}
	if c.Manner == ByAir {
		b.WriteString(" | by air")
	}
	if c.Manner == ByWay && c.Form == AlongWay {
		b.WriteString(" | by way")
	}
	if c.Way.Text != "" {
		b.WriteString(" | on " + c.Way.Text)
	}
	if c.Side != "" {
		b.WriteString(" | side " + c.Side)
	}
	if c.Form == Elevation {
		fmt.Fprintf(&b, " | %.0f to %.0f m", float64(c.Low), float64(c.High))
	}
	return b.String()
}

// String writes the leg: "3 1/2 mi ±402 m NE ±22.5".
func (l Leg) String() string {
	var parts []string
	if l.Number != "" {
		parts = append(parts, fmt.Sprintf("%.0f±%.0f m", float64(l.Distance), float64(l.Half)))
	}
	if l.Toward != "" {
		parts = append(parts, l.Toward)
		if l.HalfAngle > 0 {
			parts = append(parts, fmt.Sprintf("±%g", float64(l.HalfAngle)))
		}
	}
	return strings.Join(parts, " ")
}

// Left is a part of the text that was not understood, and why.
type Left struct {
	Text string `json:"text"`
	Span Span   `json:"span"`
	Why  string `json:"why"`
}

// Reading is what a text says and what of it was not understood.
type Reading struct {
	Verbatim string   `json:"verbatim"`
	Clauses  []Clause `json:"clauses"`
	Left     []Left   `json:"left,omitempty"`
}
