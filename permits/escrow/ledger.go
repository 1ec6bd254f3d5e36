package escrow

import "slices"

// Ledger is the book of one number in one window. The zero Ledger has nothing
// to lend.
type Ledger struct {
	limit, reserve int
	stated         bool // the number is known; to a second server it is not
	ended          bool
	next           int // the last serial given out
	shares         []Share
	devices        []device
	entries        []entry
	alarms         []Alarm
	early          []Event // that speak of shares which are not known yet
	hold           hold
}

type device struct {
	id     string
	held   uint64
	burned Why
	known  bool // it may hold shares of which the ledger knows nothing
}

type entry struct {
	op string
	n  int
}

// Fold returns the ledger after all events, in the order of the log.
func Fold(events []Event) Ledger {
	var l Ledger
	for i := range events {
		l.Apply(&events[i])
	}
	return l
}

// Apply enters one event. It never refuses: what cannot be is entered as an
// animal without a share, and raises an alarm.
func (l *Ledger) Apply(e *Event) {
	switch e.Kind {
	case Limited:
		l.stated = true
		l.limit, l.reserve = e.Limit, max(0, min(e.Reserve, e.Limit))
	case Granted:
		l.lend(e)
	case Spent:
		l.spend(e)
	case Returned:
		l.takeBack(e)
	case Held:
		d := l.device(e.Device)
		d.held = max(d.held, e.Seq)
		l.settle(e.Device)
	case Burned:
		if d := l.device(e.Device); d.burned == "" {
			d.burned = e.Why
		}
		l.hold.hear(e.Device)
	case Entered:
		l.enter(e.Op, e.Count)
	case Ended:
		l.ended = true
	default:
		l.applyHold(e)
	}
}

func (l *Ledger) device(id string) *device {
	for i := range l.devices {
		if l.devices[i].id == id {
			return &l.devices[i]
		}
	}
	l.devices = append(l.devices, device{id: id})
	return &l.devices[len(l.devices)-1]
}

func (l *Ledger) burned(id string) bool {
	for i := range l.devices {
		if l.devices[i].id == id {
			return l.devices[i].burned != ""
		}
	}
	return false
}

func (l *Ledger) share(id string) *Share {
	for i := range l.shares {
		if l.shares[i].ID == id {
			return &l.shares[i]
		}
	}
	return nil
}

func (l *Ledger) alarm(kind AlarmKind, e *Event, other string) {
	l.alarms = append(l.alarms, Alarm{kind, e.Device, e.Grant, e.Serial, e.Op, other})
}

// enter adds animals without a share; the same act counts once.
func (l *Ledger) enter(op string, n int) {
	for i := range l.entries {
		if l.entries[i].op == op {
			return
		}
	}
	l.entries = append(l.entries, entry{op, n})
}

func (l *Ledger) lend(e *Event) {
	n := e.Last - e.First + 1
	if l.share(e.Grant) != nil || n < 1 {
		return
	}
	if e.Of != "" {
		switch b := l.share(e.Of); {
		case b == nil:
			l.wait(e)
			return
		case !b.Block || b.Device != e.By || e.First < b.First || e.Last > b.Last || b.restored && e.Last >= b.back:
			l.once(NotItsBlock, e, "")
			return
		}
	} else {
		l.next = max(l.next, e.Last)
	}
	before, hold := l.Sums(), l.hold.on
	l.shares = append(l.shares, Share{ID: e.Grant, Device: e.Device, Block: e.Block, Of: e.Of, First: e.First, Last: e.Last, spent: make([]string, n)})
	l.comeTrue(e.Grant)
	switch {
	case e.Of != "", !l.stated:
	case hold && before.rights() <= l.limit && l.Sums().rights() > l.limit, !hold && (l.ended || l.burned(e.Device) || n > before.Free):
		l.alarm(LentTooMuch, e, "")
	}
}

func (l *Ledger) spend(e *Event) {
	s := l.share(e.Grant)
	switch {
	case s == nil:
		l.wait(e)
		l.odd(NoSuchSerial, e, "")
		return
	case s.Block || e.Serial < s.First || e.Serial > s.Last:
		l.odd(NoSuchSerial, e, "")
		return
	case s.Device != e.Device:
		l.odd(NotItsOwn, e, "")
		return
	}
	at, above := &s.spent[e.Serial-s.First], l.above(s, e.Serial)
	switch {
	case *at == e.Op:
	case *at != "":
		l.odd(SpentTwice, e, *at)
	case above != nil && *above != "":
		l.odd(SpentTwice, e, *above)
	case s.restored && e.Serial >= s.back, above == nil && s.Of != "":
		l.odd(SpentReturned, e, "")
	default:
		if l.burned(e.Device) {
			l.once(SpentGone, e, "")
		}
		*at = e.Op
		if above != nil {
			*above = e.Op
		}
	}
}

// odd enters the animal of a spend that has no right, once.
func (l *Ledger) odd(kind AlarmKind, e *Event, other string) {
	if l.once(kind, e, other) {
		l.enter(e.Op, 1)
	}
}

// once raises an alarm unless the same act raised it already.
func (l *Ledger) once(kind AlarmKind, e *Event, other string) bool {
	for _, a := range l.alarms {
		if a.Op == e.Op && a.Grant == e.Grant && a.Serial == e.Serial {
			return false
		}
	}
	l.alarm(kind, e, other)
	return true
}

// takeBack notes that the rest of a share was given up. Only its device can do
// that, and not after it lost its rights.
func (l *Ledger) takeBack(e *Event) {
	s := l.share(e.Grant)
	if s == nil {
		l.wait(e)
		return
	}
	if s.Device != e.Device || s.back != 0 || l.burned(e.Device) || e.First < s.First || e.First > s.Last {
		return
	}
	s.back, s.backSeq = e.First, e.Seq
	l.settle(e.Device)
}

// settle frees what a device gave up, once all it did before is known.
func (l *Ledger) settle(id string) {
	d := l.device(id)
	if d.burned != "" {
		return
	}
	for i := range l.shares {
		s := &l.shares[i]
		if s.Device == id && s.back != 0 && d.held >= s.backSeq {
			s.restored = true
		}
	}
}

// wait keeps an event until the share of which it speaks is known: the saves of
// several devices come in any order.
func (l *Ledger) wait(e *Event) {
	if !slices.ContainsFunc(l.early, func(x Event) bool { return x == *e }) {
		l.early = append(l.early, *e)
	}
}

// comeTrue enters what was said of a share before it was known.
func (l *Ledger) comeTrue(grant string) {
	speaks := func(e Event) bool { return e.Grant == grant && e.Kind != Granted || e.Of == grant }
	var due []Event
	for _, e := range l.early {
		if speaks(e) {
			due = append(due, e)
		}
	}
	l.early = slices.DeleteFunc(l.early, speaks)
	for i := range due {
		e := &due[i]
		if e.Kind == Spent { // it was entered as if it had no share
			l.entries = slices.DeleteFunc(l.entries, func(x entry) bool { return x.op == e.Op })
			l.alarms = slices.DeleteFunc(l.alarms, func(a Alarm) bool { return a.Op == e.Op && a.Grant == grant && a.Kind == NoSuchSerial })
		}
		l.Apply(e)
	}
}

// Alarms returns what cannot be, in the order in which it was seen.
func (l *Ledger) Alarms() []Alarm { return slices.Clone(l.alarms) }

// Gone says why a device has no rights; "" if it has not lost them.
func (l *Ledger) Gone(id string) Why {
	for i := range l.devices {
		if l.devices[i].id == id {
			return l.devices[i].burned
		}
	}
	return ""
}
