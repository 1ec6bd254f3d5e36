package permits

import (
	"strings"
	"testing"
)

func TestWhereAChainOfHandOversBreaks(t *testing.T) {
	day := func(d int) Moment { return Moment{Date: NewDate(2025, 6, d)} }
	whole := []Handover{
		{From: "cal", To: "Institution", At: day(1), Place: "the loading door", Seal: "B-7", Signed: "G. Marsh"},
		{From: "institution", To: "USFWS OLE", At: day(4), Place: "the office", Seal: "B-7", Signed: "Officer Lund"},
	}
	with := func(change func(c []Handover)) []Handover {
		c := append([]Handover(nil), whole...)
		change(c)
		return c
	}
	for _, c := range []struct {
		name  string
		chain []Handover
		held  bool
		want  []string
	}{
		{"nobody handed it to anybody", nil, true, nil},
		{"whole, and held", whole, true, nil},
		{"a hand is missing in between", with(func(c []Handover) { c[1].From = "the freezer manager" }), false, []string{"Nobody says how it came from Institution to the freezer manager."}},
		{"who gave it was not said", with(func(c []Handover) { c[1].From = "" }), false, nil},
		{"to nobody", with(func(c []Handover) { c[1].To = "" }), false, []string{"A hand-over on 4 June 2025 does not say to whom."}},
		{"handed on before it came", with(func(c []Handover) { c[1].At = Moment{Date: NewDate(2025, 5, 30)} }), false, []string{"It was handed to USFWS OLE on 30 May 2025 before it came to Institution on 1 June 2025."}},
		{"another seal, and nobody says why", with(func(c []Handover) { c[1].Seal = "B-9" }), false, []string{"The seal was B-7 and is B-9, and nobody says why."}},
		{"another seal, and its condition says why", with(func(c []Handover) { c[1].Seal, c[1].Condition = "B-9", "bag torn, put into another" }), false, nil},
		{"held, without a seal and a signature", with(func(c []Handover) { c[0].Seal, c[0].Signed = "", "" }), true, []string{"The hand-over to Institution on 1 June 2025 does not say under which seal and who signed for it."}},
		{"not held, the same", with(func(c []Handover) { c[0].Seal, c[0].Signed = "", "" }), false, nil},
		{"held, and nobody knows when", with(func(c []Handover) { c[0].At = Moment{} }), true, []string{"The hand-over to Institution does not say when."}},
	} {
		if got := Gaps(c.chain, c.held); strings.Join(got, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
