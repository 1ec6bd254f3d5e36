package compliance_test

import (
	"testing"
	"wayfall/permits"
	"wayfall/permits/compliance"
)

// TestTheEdgesOfAYear puts one line to either side of everything that decides
// where it is told of.
func TestTheEdgesOfAYear(t *testing.T) {
	day := permits.NewDate
	in := func(on permits.Date) compliance.Line {
		return compliance.Line{Animal: "a", Taxon: "Gavia immer", Authority: "P1", Effect: compliance.Covered, Fate: compliance.Kept, On: on}
	}
	with := func(change func(*compliance.Line)) compliance.Line {
		l := in(day(2025, 6, 1))
		change(&l)
		return l
	}
	for name, c := range map[string]struct {
		line compliance.Line
		got  func(compliance.Report) int
		want int
	}{
		"the day before the year":   {in(day(2024, 12, 31)), func(r compliance.Report) int { return r.Elsewhere }, 1},
		"the first day":             {in(day(2025, 1, 1)), func(r compliance.Report) int { return r.Individuals }, 1},
		"the last day":              {in(day(2025, 12, 31)), func(r compliance.Report) int { return r.Individuals }, 1},
		"the day after":             {in(day(2026, 1, 1)), func(r compliance.Report) int { return r.Elsewhere }, 1},
		"no day":                    {in(0), func(r compliance.Report) int { return len(r.Undated) }, 1},
		"another permit":            {with(func(l *compliance.Line) { l.Authority = "P2" }), func(r compliance.Report) int { return r.Elsewhere }, 1},
		"an effect nobody told":     {with(func(l *compliance.Line) { l.Effect = "" }), func(r compliance.Report) int { return len(r.NotCovered) }, 1},
		"over the number":           {with(func(l *compliance.Line) { l.Effect = compliance.OverQuota }), func(r compliance.Report) int { return len(r.OverQuota) }, 1},
		"over, and in the table":    {with(func(l *compliance.Line) { l.Effect = compliance.OverQuota }), func(r compliance.Report) int { return r.Individuals }, 0},
		"not covered, and in table": {with(func(l *compliance.Line) { l.Effect = "" }), func(r compliance.Report) int { return r.Individuals }, 0},
	} {
		if got := c.got(compliance.Build(year(permit()), []compliance.Line{c.line})); got != c.want {
			t.Errorf("%s: got %d, want %d", name, got, c.want)
		}
	}
	twice := compliance.Build(year(permit()), []compliance.Line{in(day(2025, 3, 1)), in(day(2025, 4, 1))})
	if twice.Individuals != 1 || len(twice.Repeated) != 1 {
		t.Errorf("an animal on two lines: got %d individuals and %d repeated, want 1 and 1", twice.Individuals, len(twice.Repeated))
	}
	a := permit()
	a.ReportDue, _ = permits.ParseMonthDay("01-31")
	for on, late := range map[permits.Date]bool{day(2026, 1, 30): false, day(2026, 1, 31): false, day(2026, 2, 1): true} {
		q := year(a)
		q.AsOf = permits.Moment{Date: on}
		if got := compliance.Build(q, nil).Late; got != late {
			t.Errorf("as of %s, due 2026-01-31: got late %v, want %v", on, got, late)
		}
	}
}
