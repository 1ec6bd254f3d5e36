package rules

import (
	"testing"

	"wayfall/permits"
)

func TestBeforeADayLeavesTheDayOut(t *testing.T) {
	day := permits.NewDate(2025, 10, 2)
	cond := parse(t, `{"fact":"possessed_on","before":"2025-10-02"}`)
	for n, want := range map[int]Truth{-1: True, 0: False, 1: False} {
		var in Inputs
		in[PossessedOn] = Number(int64(day.AddDays(n)))
		if got := cond.Eval(&in); got != want {
			t.Errorf("on %s: got %d, want %d (1 false, 2 true)", day.AddDays(n), got, want)
		}
	}
}
