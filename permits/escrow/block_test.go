package escrow

import (
	"slices"
	"testing"
)

// station is a ledger of 12 of which the server S holds a block of 6.
func station() Ledger {
	return Fold([]Event{
		{Kind: Limited, Limit: 12, Reserve: 1},
		{Kind: Granted, Device: "S", Grant: "b", Block: true, First: 1, Last: 6},
	})
}

func onward(grant, dev string, first, last int) Event {
	return Event{Kind: Granted, Device: dev, Grant: grant, Of: "b", By: "S", First: first, Last: last}
}

func counted(grant, dev, op string, serial int) Event {
	return Event{Kind: Spent, Device: dev, Grant: grant, Serial: serial, Op: op}
}

func TestABlockIsLentOnAndStaysOneOfTheNumbersPlaces(t *testing.T) {
	for _, c := range []struct {
		name   string
		events []Event
		want   Sums
		hand   int
		alarms []AlarmKind
	}{
		{"a block leaves what is free", nil, Sums{12, 5, 1, 6, 0, 0, 0, 0, 0}, 6, nil},
		{"what is lent on stays in the block", []Event{onward("s", "A", 1, 2)}, Sums{12, 5, 1, 6, 0, 0, 0, 0, 0}, 4, nil},
		{"a spend leaves it", []Event{onward("s", "A", 1, 2), counted("s", "A", "x", 1)}, Sums{12, 5, 1, 5, 1, 0, 0, 0, 0}, 4, nil},
		{"even if it is heard before the share", []Event{counted("s", "A", "x", 1), onward("s", "A", 1, 2)}, Sums{12, 5, 1, 5, 1, 0, 0, 0, 0}, 4, nil},
		{"a share that nobody lent", []Event{counted("s", "A", "x", 1)}, Sums{12, 4, 1, 6, 0, 0, 1, 0, 0}, 6, []AlarmKind{NoSuchSerial}},
		{"a phone gives back to the block", []Event{onward("s", "A", 1, 2), {Kind: Returned, Device: "A", Grant: "s", First: 1, Seq: 1}, {Kind: Held, Device: "A", Seq: 1}}, Sums{12, 5, 1, 6, 0, 0, 0, 0, 0}, 6, nil},
		{"the block goes back to what is free", []Event{onward("s", "A", 1, 2), {Kind: Returned, Device: "S", Grant: "b", First: 3, Seq: 2}, {Kind: Held, Device: "S", Seq: 2}}, Sums{12, 9, 1, 2, 0, 0, 0, 0, 0}, 0, nil},
		{"a lost phone burns inside the block", []Event{onward("s", "A", 1, 2), {Kind: Burned, Device: "A", Why: Lost}}, Sums{12, 5, 1, 4, 0, 2, 0, 0, 0}, 4, nil},
		{"a lost station burns its block", []Event{onward("s", "A", 1, 2), {Kind: Burned, Device: "S", Why: Lost}, counted("s", "A", "x", 1)}, Sums{12, 5, 1, 0, 1, 5, 0, 0, 0}, 4, nil},
		{"one serial lent on twice is used once", []Event{onward("s", "A", 1, 2), onward("u", "B", 1, 2), counted("s", "A", "x", 1), counted("u", "B", "y", 1)}, Sums{12, 4, 1, 5, 1, 0, 1, 0, 0}, 4, []AlarmKind{SpentTwice}},
		{"a server lends only of its own block", []Event{{Kind: Granted, Device: "A", Grant: "s", Of: "b", By: "T", First: 1, Last: 2}}, Sums{12, 5, 1, 6, 0, 0, 0, 0, 0}, 6, []AlarmKind{NotItsBlock}},
		{"and not past its end", []Event{onward("s", "A", 5, 7)}, Sums{12, 5, 1, 6, 0, 0, 0, 0, 0}, 6, []AlarmKind{NotItsBlock}},
		{"nobody spends a block itself", []Event{counted("b", "S", "x", 1)}, Sums{12, 4, 1, 6, 0, 0, 1, 0, 0}, 6, []AlarmKind{NoSuchSerial}},
	} {
		l := station()
		for _, e := range c.events {
			l.Apply(&e)
		}
		if got := l.Sums(); got != c.want {
			t.Errorf("%s: got %+v, want %+v units", c.name, got, c.want)
		}
		if got := l.InHand(l.share("b")); got != c.hand {
			t.Errorf("%s: got %d units in the station's hand, want %d", c.name, got, c.hand)
		}
		var kinds []AlarmKind
		for _, a := range l.Alarms() {
			kinds = append(kinds, a.Kind)
		}
		if !slices.Equal(kinds, c.alarms) {
			t.Errorf("%s: got alarms %v, want %v", c.name, kinds, c.alarms)
		}
	}
}

func TestALogThatWasPutBackLendsNothingUntilItKnowsWhatIsOut(t *testing.T) {
	for _, c := range []struct {
		name    string
		events  []Event
		stopped bool
		free    int
	}{
		{"while a phone was not heard", []Event{{Kind: PutBack}}, true, 0},
		{"until it is heard", []Event{{Kind: PutBack}, {Kind: Heard, Device: "A"}}, false, 7},
		{"with what it was lent after the copy", []Event{{Kind: PutBack}, {Kind: Granted, Device: "A", Grant: "g2", First: 5, Last: 7}, {Kind: Heard, Device: "A"}}, false, 4},
		{"or written off", []Event{{Kind: PutBack}, {Kind: Burned, Device: "A", Why: Lost}}, false, 7},
		{"or a person says so", []Event{{Kind: PutBack}, {Kind: Vouched}}, false, 7},
		{"only a person where the desk may have entered animals", []Event{{Kind: PutBack, Count: 1}, {Kind: Heard, Device: "A"}}, true, 0},
		{"and then a person", []Event{{Kind: PutBack, Count: 1}, {Kind: Heard, Device: "A"}, {Kind: Vouched}}, false, 7},
		{"also for a phone that only asked", []Event{{Kind: Known, Device: "B"}, {Kind: PutBack}, {Kind: Heard, Device: "A"}}, true, 0},
	} {
		l := lent()
		for _, e := range c.events {
			l.Apply(&e)
		}
		if _, stopped := l.Waits(); stopped != c.stopped || l.Sums().Free != c.free {
			t.Errorf("%s: got stopped %t with %d free, want %t with %d", c.name, stopped, l.Sums().Free, c.stopped, c.free)
		}
		if _, ok := l.Lend("B", "g9", 1); ok == c.stopped {
			t.Errorf("%s: got lent %t, want %t", c.name, ok, !c.stopped)
		}
	}
}

func TestAPurseHearsTheAnswerToItsLastQuestion(t *testing.T) {
	var p Purse
	share := []Holding{{Grant: Grant{ID: "g1", Device: "A", Number: year, First: 1, Last: 2}}}
	first := p.Ask()
	second := p.Ask()
	if p.Hear(first, "before", share) || len(p.Holdings) != 0 {
		t.Errorf("got %v from the answer to an earlier question, want nothing", p.Holdings)
	}
	if !p.Hear(second, "after", share) || p.Life != "after" || p.Left("paper", "loons", "", today) != 2 {
		t.Errorf("got %+v, want 2 units of the server's life after", p)
	}
	l := Fold([]Event{{Kind: Limited, Limit: 12}, {Kind: PutBack}})
	if all := l.Missing("A", p.Holdings); len(all) != 1 || all[0].Grant != "g1" {
		t.Errorf("got %v missing, want g1", all)
	}
}

func TestWhatAServerWithABlockLends(t *testing.T) {
	l := station()
	if got := l.ProposeOn("S", Ask{Device: "A", Phones: 2}); got != 3 {
		t.Errorf("one of two phones: got %d units, want its part 3", got)
	}
	if got := l.ProposeOn("S", Ask{Device: "A", Phones: 6}); got != 0 {
		t.Errorf("six phones at a block of six: got %d units, want 0", got)
	}
	e, ok := l.LendOn("S", "A", "s", 4)
	if !ok || e.First != 1 || e.Last != 4 {
		t.Fatalf("got %+v, want serials 1 to 4", e)
	}
	l.Apply(&e)
	if back, ok := l.Spare("b"); !ok || back.From != 5 {
		t.Errorf("got %+v to spare, want from serial 5", back)
	}
	if got := l.Propose(Ask{Device: "S", Phones: 4, Behind: 2}); got != 2 {
		t.Errorf("a server of two phones with 2 in hand: got %d units more, want 2, its half of the 5 that are free", got)
	}
}
