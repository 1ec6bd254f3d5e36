package permits

import "testing"

func TestABarHoldsOnItsDays(t *testing.T) {
	bars := []Bar{{Person: "cal", From: NewDate(2025, 3, 1), To: NewDate(2025, 5, 31)}, {Person: "bea"}}
	for _, c := range []struct {
		name, person, at string
		want             Answer
	}{
		{"the day before", "cal", "2025-02-28", No},
		{"the first day", "cal", "2025-03-01", Yes},
		{"the last day", "cal", "2025-05-31", Yes},
		{"the day after", "cal", "2025-06-01", No},
		{"a stretch that begins before it", "cal", "2025-02-27/2025-03-02", Unknown},
		{"a stretch around it", "cal", "2025-01-01/2025-12-31", Unknown},
		{"a stretch within it", "cal", "2025-03-02/2025-03-09", Yes},
		{"nobody knows when", "cal", "", Yes},
		{"a bar without bounds", "bea", "1999-01-01", Yes},
		{"somebody else", "ana", "2025-04-01", No},
		{"nobody", "", "2025-04-01", No},
	} {
		var at When
		if c.at != "" {
			if err := at.UnmarshalText([]byte(c.at)); err != nil {
				t.Fatal(err)
			}
		}
		if got := BarredAt(bars, c.person, at); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}
