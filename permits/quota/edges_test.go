package quota_test

import (
	"testing"

	"wayfall/permits"
	"wayfall/permits/quota"
)

func TestAWindowHoldsItsFirstAndItsLastDay(t *testing.T) {
	for _, c := range []struct {
		name string
		on   permits.Date
		want int
	}{
		{"the day before the first", permits.NewDate(2024, 12, 31), 0},
		{"the first day", permits.NewDate(2025, 1, 1), 1},
		{"the last day", permits.NewDate(2025, 12, 31), 1},
		{"the day after the last", permits.NewDate(2026, 1, 1), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := quota.NewLedger([]quota.Use{{Animal: "a", Authority: "P", Taxon: "Gavia immer", Found: permits.Moment{Date: c.on}}}, nil)
			ask := permits.NewDate(2025, 6, 1)
			if used, left, known := l.Used(paper, twelve, "Gavia immer", ask); used != c.want || left != 12-c.want || !known {
				t.Errorf("got %d used and %d left, known %v, want %d and %d animals", used, left, known, c.want, 12-c.want)
			}
			if got := l.Standing(paper, twelve, "Gavia immer", ask).Used; got != c.want {
				t.Errorf("got a standing of %d, want %d animals", got, c.want)
			}
		})
	}
}
