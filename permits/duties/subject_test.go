package duties_test

import (
	"testing"

	"wayfall/permits/duties"
)

func TestTheSameDutyOfTwoAnimalsIsTwoDuties(t *testing.T) {
	one, two := due(moment(t, "2026-04-13")), due(moment(t, "2026-04-11"))
	two.Subject = "r2"
	got := duties.Merge([]duties.Duty{one}, []duties.Duty{two})
	if len(got) != 2 || got[0].By != one.By || got[1].Subject != "r2" || got[1].By != two.By {
		t.Errorf("got %+v, want the one of r1 as it was and another of r2", got)
	}
}
