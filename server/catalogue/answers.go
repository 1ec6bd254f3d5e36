package catalogue

import "wayfall/permits"

// Shape is the shape by which an answer is shown: take, ask, stop, breach or
// note.
func Shape(v permits.Verdict) string { return shapeOf(v) }

// Headline is an answer in a few words.
func Headline(v permits.Verdict) string { return headline(v) }

// ShapeOfFinding is the shape by which what one rule says is shown.
func ShapeOfFinding(f permits.Finding) string { return effectShape(f) }
