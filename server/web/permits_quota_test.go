package web

import (
	"testing"

	"wayfall/permits"
)

func TestANumberSaysWhichAnimalsItCountsAndWhen(t *testing.T) {
	season := &permits.Season{}
	season.From, _ = permits.ParseMonthDay("11-15")
	season.To, _ = permits.ParseMonthDay("02-10")
	for _, c := range []struct {
		name  string
		quota permits.Quota
		want  string
	}{
		{"a plain one", permits.Quota{ID: "N", Per: "all", Limit: 12, Window: "calendar_year"}, "N: at most 12 all together, in a calendar year"},
		{"females that died in care", permits.Quota{ID: "N", Per: "all", Limit: 2, Sexes: []string{"female"}, Acquired: []string{permits.DiedInCare}, Window: "calendar_year"},
			"N: at most 2 all together, females, died in care, in a calendar year"},
		{"a season, counted when received", permits.Quota{ID: "N", Per: "all", Limit: 2, Window: "season", Season: season, CountsWhen: permits.AtDeposit},
			"N: at most 2 all together, in its season from 15 November to 10 February, counted when received"},
		{"all but windows, with a warning", permits.Quota{ID: "N", Per: "all", Limit: 10, ExemptCauses: []string{"window"}, Window: "permit_life", WarnPercent: 80},
			"N: at most 10 all together, not killed by a window, as long as the permit runs; from 8 on ask first"},
	} {
		if got := (teller{}).quota(c.quota); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
