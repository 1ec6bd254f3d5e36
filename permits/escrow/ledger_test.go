package escrow

import (
	"testing"
)

// lent is a ledger of 12 with one share of 4 at phone A.
func lent() Ledger {
	return Fold([]Event{
		{Kind: Limited, Limit: 12, Reserve: 1},
		{Kind: Granted, Device: "A", Grant: "g1", First: 1, Last: 4},
	})
}

func spent(op string, serial int) Event {
	return Event{Kind: Spent, Device: "A", Grant: "g1", Serial: serial, Op: op}
}

func TestEveryUnitIsInOnePlace(t *testing.T) {
	back := Event{Kind: Returned, Device: "A", Grant: "g1", First: 3, Seq: 5}
	for _, c := range []struct {
		name   string
		events []Event
		want   Sums
		alarms int
	}{
		{"a share leaves what is free", nil, Sums{12, 7, 1, 4, 0, 0, 0, 0, 0}, 0},
		{"a spend leaves the share", []Event{spent("a", 1)}, Sums{12, 7, 1, 3, 1, 0, 0, 0, 0}, 0},
		{"told twice it is one", []Event{spent("a", 1), spent("a", 1)}, Sums{12, 7, 1, 3, 1, 0, 0, 0, 0}, 0},
		{"two animals on one serial are both kept", []Event{spent("a", 1), spent("b", 1), spent("b", 1)}, Sums{12, 6, 1, 3, 1, 0, 1, 0, 0}, 1},
		{"what is given back waits for what was done before", []Event{spent("a", 1), back}, Sums{12, 7, 1, 3, 1, 0, 0, 0, 0}, 0},
		{"and is free once that is known", []Event{spent("a", 1), back, {Kind: Held, Device: "A", Seq: 5}}, Sums{12, 9, 1, 1, 1, 0, 0, 0, 0}, 0},
		{"or if it was known before", []Event{{Kind: Held, Device: "A", Seq: 5}, back}, Sums{12, 9, 1, 2, 0, 0, 0, 0, 0}, 0},
		{"another phone gives nothing back", []Event{{Kind: Returned, Device: "B", Grant: "g1", First: 1}}, Sums{12, 7, 1, 4, 0, 0, 0, 0, 0}, 0},
		{"a lost phone burns its rest", []Event{spent("a", 1), {Kind: Burned, Device: "A", Why: Lost}}, Sums{12, 7, 1, 0, 1, 3, 0, 0, 0}, 0},
		{"what it spent turns up as spent, and is shown", []Event{{Kind: Burned, Device: "A", Why: Lost}, spent("a", 1)}, Sums{12, 7, 1, 0, 1, 3, 0, 0, 0}, 1},
		{"and it gives nothing back", []Event{{Kind: Burned, Device: "A", Why: Lost}, back, {Kind: Held, Device: "A", Seq: 9}}, Sums{12, 7, 1, 0, 0, 4, 0, 0, 0}, 0},
		{"the desk takes what is free, then the reserve", []Event{{Kind: Entered, Op: "d", Count: 8}}, Sums{12, 0, 0, 4, 0, 0, 8, 0, 0}, 0},
		{"and is over past that, never the share", []Event{{Kind: Entered, Op: "d", Count: 10}}, Sums{12, 0, 0, 4, 0, 0, 8, 2, 0}, 0},
		{"an amendment takes nothing back", []Event{spent("a", 1), {Kind: Limited, Limit: 2}}, Sums{2, 0, 0, 3, 1, 0, 0, 0, 0}, 0},
		{"a serial that was never lent", []Event{spent("a", 9)}, Sums{12, 6, 1, 4, 0, 0, 1, 0, 0}, 1},
		{"a share of another phone", []Event{{Kind: Spent, Device: "B", Grant: "g1", Serial: 2, Op: "x"}}, Sums{12, 6, 1, 4, 0, 0, 1, 0, 0}, 1},
		{"spent after it was given back", []Event{back, {Kind: Held, Device: "A", Seq: 5}, spent("a", 4)}, Sums{12, 8, 1, 2, 0, 0, 1, 0, 0}, 1},
	} {
		l := lent()
		for _, e := range c.events {
			l.Apply(&e)
		}
		if got := l.Sums(); got != c.want {
			t.Errorf("%s: got %+v, want %+v units", c.name, got, c.want)
		}
		if got := len(l.Alarms()); got != c.alarms {
			t.Errorf("%s: got %d alarms %v, want %d", c.name, got, l.Alarms(), c.alarms)
		}
	}
}

func TestNothingIsLentWhereItMustNot(t *testing.T) {
	for _, c := range []struct {
		name string
		e    Event
	}{
		{"after the window", Event{Kind: Ended}},
		{"to a lost phone", Event{Kind: Burned, Device: "A", Why: Lost}},
		{"to a replaced phone", Event{Kind: Burned, Device: "A", Why: Replaced}},
		{"below an amended limit", Event{Kind: Limited, Limit: 4}},
		{"of what the desk entered", Event{Kind: Entered, Op: "d", Count: 7}},
	} {
		l := lent()
		l.Apply(&c.e)
		if _, ok := l.Lend("A", "g2", 1); ok {
			t.Errorf("%s: got a share of 1 unit, want none", c.name)
		}
	}
}

func TestHowMuchIsProposed(t *testing.T) {
	for _, c := range []struct {
		name  string
		limit int
		ask   Ask
		want  int
	}{
		{"as many phones as units: nothing", 5, Ask{Device: "B", Phones: 5}, 0},
		{"an equal part of what is free", 12, Ask{Device: "B", Phones: 5}, 2},
		{"one at least", 12, Ask{Device: "B", Phones: 11}, 1},
		{"not more than a quiet phone needs", 1000, Ask{Device: "B", Phones: 5}, 4},
		{"three days of a busy one", 1000, Ask{Device: "B", Phones: 5, Recent: 70}, 30},
	} {
		l := Fold([]Event{{Kind: Limited, Limit: c.limit, Reserve: Reserve(c.limit)}})
		got := l.Propose(c.ask)
		if got != c.want {
			t.Errorf("%s: got %d units, want %d", c.name, got, c.want)
		}
		if e, ok := l.Lend("B", "g", got); ok && got >= lowWater {
			l.Apply(&e)
			if again := l.Propose(c.ask); c.ask.Recent == 0 && again != 0 {
				t.Errorf("%s: asked again it lends %d more units, want 0", c.name, again)
			}
		}
	}
}

func TestAPurseSpendsInOrderAndForgetsNothing(t *testing.T) {
	var p Purse
	p.Take(Holding{Grant{ID: "g1", Device: "A", Number: year, First: 3, Last: 5}, 0})
	if all, ok := p.Spend("paper", "loons", "", today, 2); !ok || all[0].Serial != 3 || all[1].Serial != 4 {
		t.Errorf("got %v, want serials 3 and 4", all)
	}
	p.Take(Holding{Grant{ID: "g1", Device: "A", Number: year, First: 3, Last: 5}, 3}) // an old answer
	if got := p.Left("paper", "loons", "", today); got != 1 {
		t.Errorf("after an old answer: got %d left, want 1", got)
	}
	if _, ok := p.Spend("paper", "loons", "", today, 2); ok {
		t.Error("spent 2 units of 1")
	}
	if got := p.Left("paper", "loons", "", year.To.AddDays(1)); got != 0 {
		t.Errorf("a day after the window: got %d left, want 0", got)
	}
	if back, ok := p.GiveBack("g1"); !ok || back.From != 5 {
		t.Errorf("gave back %v, want from serial 5", back)
	}
	if got := p.Left("paper", "loons", "", today); got != 0 {
		t.Errorf("after giving back: got %d left, want 0", got)
	}
}
