package escrow

import "slices"

// Share is one grant as the ledger sees it.
type Share struct {
	ID          string
	Device      string
	First, Last int

	spent    []string // by serial from First: the act that spent it, "" is none
	back     int      // serials from this one on were given up; 0 is none
	backSeq  uint64   // the save in which that was said
	restored bool     // and they are free again
}

// Ledger is the book of one number in one window. The zero Ledger has nothing
// to lend.
type Ledger struct {
	limit, reserve int
	ended          bool
	next           int // the last serial given out
	shares         []Share
	devices        []device
	entries        []entry
	alarms         []Alarm
}

type device struct {
	id     string
	held   uint64
	burned Why
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
	case Entered:
		l.enter(e.Op, e.Count)
	case Ended:
		l.ended = true
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
	l.alarms = append(l.alarms, Alarm{kind, e.Grant, e.Serial, e.Op, other})
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
	if !l.Lendable(e.Device, n) {
		l.alarm(LentTooMuch, e, "")
	}
	l.shares = append(l.shares, Share{ID: e.Grant, Device: e.Device, First: e.First, Last: e.Last, spent: make([]string, n)})
	l.next = max(l.next, e.Last)
}

func (l *Ledger) spend(e *Event) {
	s := l.share(e.Grant)
	switch {
	case s == nil || e.Serial < s.First || e.Serial > s.Last:
		l.odd(NoSuchSerial, e, "")
		return
	case s.Device != e.Device:
		l.odd(NotItsOwn, e, "")
		return
	}
	at := &s.spent[e.Serial-s.First]
	switch {
	case *at == e.Op:
	case *at != "":
		l.odd(SpentTwice, e, *at)
	case s.restored && e.Serial >= s.back:
		l.odd(SpentReturned, e, "")
	default:
		*at = e.Op
	}
}

// odd enters the animal of a spend that has no right, once.
func (l *Ledger) odd(kind AlarmKind, e *Event, other string) {
	for _, a := range l.alarms {
		if a.Op == e.Op && a.Grant == e.Grant && a.Serial == e.Serial {
			return
		}
	}
	l.alarm(kind, e, other)
	l.enter(e.Op, 1)
}

// takeBack notes that the rest of a share was given up. Only its device can do
// that, and not after it lost its rights.
func (l *Ledger) takeBack(e *Event) {
	s := l.share(e.Grant)
	if s == nil || s.Device != e.Device || s.back != 0 || l.burned(e.Device) || e.First < s.First || e.First > s.Last {
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

// Next returns the first serial after all that are known to be spent: a device
// spends in order.
func (s *Share) Next() int {
	next := s.First
	for i, op := range s.spent {
		if op != "" {
			next = s.First + i + 1
		}
	}
	return next
}

// Left returns how many units the device may still spend, as far as is known.
func (s *Share) Left() int {
	if s.back != 0 {
		return 0
	}
	return s.Last - s.Next() + 1
}

// open returns the units of the share that are neither spent nor free again.
func (s *Share) open() (n int) {
	for i, op := range s.spent {
		if op == "" && (!s.restored || s.First+i < s.back) {
			n++
		}
	}
	return n
}

// Spent returns the units of the share that are known to be spent.
func (s *Share) Spent() (n int) {
	for _, op := range s.spent {
		if op != "" {
			n++
		}
	}
	return n
}

// Shares returns every share ever lent, in order.
func (l *Ledger) Shares() []Share { return slices.Clone(l.shares) }

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

// Sums says where the units of a number are. Free, Reserve, Lent, Spent,
// Burned and Entered together are Limit, or more than it only where an
// amendment put the limit below what was lent and spent already.
type Sums struct {
	Limit   int
	Free    int
	Reserve int
	Lent    int // unspent in shares
	Spent   int
	Burned  int
	Entered int // animals without a share that the number still covers
	Over    int // animals without a share past the number
}

// Sums counts.
func (l *Ledger) Sums() Sums {
	out := Sums{Limit: l.limit}
	for i := range l.shares {
		s := &l.shares[i]
		out.Spent += s.Spent()
		if l.burned(s.Device) {
			out.Burned += s.open()
		} else {
			out.Lent += s.open()
		}
	}
	entered := 0
	for i := range l.entries {
		entered += l.entries[i].n
	}
	room := l.limit - out.Spent - out.Lent - out.Burned
	out.Entered = max(0, min(entered, room))
	out.Over = entered - out.Entered
	rest := max(0, room-out.Entered)
	out.Reserve = min(l.reserve, rest)
	out.Free = rest - out.Reserve
	return out
}

// Authorised returns how many animals count as covered.
func (s Sums) Authorised() int { return s.Spent + s.Entered }

// Lendable tells whether n units may be lent to the device now.
func (l *Ledger) Lendable(id string, n int) bool {
	return n > 0 && !l.ended && !l.burned(id) && n <= l.Sums().Free
}
