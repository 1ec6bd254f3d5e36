package locality_test

import (
	"math"
	"testing"
	"unicode/utf8"

	"wayfall/geo/locality"
)

// FuzzParse: whatever is written, the reading quotes the text where it says it
// does, every distance and angle is possible, and nothing is said twice in two
// ways.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"10.25 mi NNE of Ludden, Tarn Co.", "5 km outside Orrin", "N of Brask", "2 mi E and 3 mi N of Troy",
		"1.5 mi E of Hwy 12 and 2 mi S of Route 9", "between Tanner R. and Clearwater Ck.", "jct. M-43 & Elm Rd.",
		"US 50, milepost 12.4", "left bank of Elk River, 2 km upstream of Moose Bridge", "near Ludden (by road)",
		"elev. 2600-2700 ft", "½ mile due n. of Orrin", "3,5 km SW de Brask?", "5 km at a bearing of 45° from Troy",
		"(((", "3 mi", "of of of", "1/0 mi N of X", "°", "٣ km N of X", "\xff 3 mi N of \xfe", "Ludden, 3 mi N, by air",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r := locality.Parse(text)
		if r.Verbatim != text {
			t.Fatalf("got the text %q back, want %q", r.Verbatim, text)
		}
		if len(r.Clauses) == 0 && len(r.Left) == 0 {
			t.Fatalf("%q: got neither a clause nor a reason", text)
		}
		for _, l := range r.Left {
			inText(t, text, l.Span)
			if l.Why == "" {
				t.Errorf("%q: got %q left without a reason", text, l.Text)
			}
		}
		for _, c := range r.Clauses {
			checkClause(t, text, c)
		}
	})
}

func inText(t *testing.T, text string, s locality.Span) {
	t.Helper()
	if s.From < 0 || s.To < s.From || s.To > len(text) {
		t.Fatalf("%q: got the span %v, want one inside the text", text, s)
	}
}

func checkClause(t *testing.T, text string, c locality.Clause) {
	t.Helper()
	inText(t, text, c.Span)
	if c.Form == locality.UnknownForm {
		t.Errorf("%q: got a clause of no form", text)
	}
	names := c.Names
	if c.Way.Text != "" {
		names = append(names[:len(names):len(names)], c.Way)
	}
	for _, n := range names {
		inText(t, text, n.Span)
		if n.Text == "" || utf8.ValidString(text) && !utf8.ValidString(n.Text) {
			t.Errorf("%q: got the name %q", text, n.Text)
		}
	}
	for _, l := range c.Legs {
		inText(t, text, l.Span)
		if math.IsNaN(float64(l.Distance)) || l.Distance < 0 || l.Distance > 2e9 || l.Half < 0 || l.Number != "" && !(l.Half > 0 && l.Distance > 0) {
			t.Errorf("%q: got the distance %v ± %v", text, l.Distance, l.Half)
		}
		if !(l.Heading >= 0 && l.Heading < 360 && l.HalfAngle >= 0 && l.HalfAngle <= 45) {
			t.Errorf("%q: got the heading %v ± %v", text, l.Heading, l.HalfAngle)
		}
	}
	if !(c.Low <= c.High) {
		t.Errorf("%q: got the heights %v to %v", text, c.Low, c.High)
	}
}
