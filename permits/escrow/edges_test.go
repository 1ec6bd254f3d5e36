package escrow

import (
	"testing"

	"wayfall/permits"
)

func TestNoSerialIsLentTwice(t *testing.T) {
	l := lent()
	e, ok := l.Lend("B", "g2", 2)
	if !ok || e.First != 5 || e.Last != 6 {
		t.Errorf("after serials 1 to 4 got %d to %d, lent %v, want 5 to 6", e.First, e.Last, ok)
	}
	l.Apply(&Event{Kind: Granted, Device: "C", Grant: "g0", First: 1, Last: 2}) // an older share that turns up
	if e, ok = l.Lend("B", "g2", 2); !ok || e.First < 5 {
		t.Errorf("after an older share got %d to %d, lent %v, want none below 5", e.First, e.Last, ok)
	}
}

func TestADeviceWithoutRightsGivesNothingBack(t *testing.T) {
	back := Event{Kind: Returned, Device: "A", Grant: "g1", First: 3, Seq: 5}
	gone := Event{Kind: Burned, Device: "A", Why: Lost}
	held := Event{Kind: Held, Device: "A", Seq: 5}
	for _, c := range []struct {
		name   string
		events []Event
		given  bool
	}{
		{"it gave up the rest after it was lost", []Event{gone, back, held}, false},
		{"it gave up the rest before, and that was not settled", []Event{back, gone, held}, true},
	} {
		l := lent()
		for _, e := range c.events {
			l.Apply(&e)
		}
		if got, want := l.Sums(), (Sums{Limit: 12, Free: 7, Reserve: 1, Burned: 4}); got != want {
			t.Errorf("%s: got %+v, want %+v units", c.name, got, want)
		}
		if got := l.Shares()[0].GivenBack(); got != c.given {
			t.Errorf("%s: got given back %v, want %v", c.name, got, c.given)
		}
	}
}

func TestAPurseIsGoodFromTheFirstToTheLastDay(t *testing.T) {
	var p Purse
	p.Take(Holding{Grant: Grant{ID: "g1", Device: "A", Number: year, First: 1, Last: 4}})
	for _, c := range []struct {
		on   permits.Date
		want int
	}{{year.From.AddDays(-1), 0}, {year.From, 4}, {year.To, 4}, {year.To.AddDays(1), 0}} {
		if got := p.Left(year.Authority, year.Quota, "", c.on); got != c.want {
			t.Errorf("on %s: got %d units, want %d", c.on, got, c.want)
		}
	}
}

func TestWhatIsKnownOfADeviceIsNotForgotten(t *testing.T) {
	l := lent()
	for _, e := range []Event{
		{Kind: Held, Device: "A", Seq: 5},
		{Kind: Held, Device: "A", Seq: 3}, // an older message, late
		{Kind: Returned, Device: "A", Grant: "g1", First: 3, Seq: 5},
	} {
		l.Apply(&e)
	}
	if got := l.Sums(); got.Free != 9 || got.Lent != 2 {
		t.Errorf("got %d free and %d lent, want 9 and 2 units", got.Free, got.Lent)
	}
}
