package escrow

import "slices"

// Share is one grant as the ledger sees it.
type Share struct {
	ID          string
	Device      string
	Block       bool   // lent to a server, which lends it on
	Of          string // the block it was lent from; "" is what was free
	First, Last int

	spent    []string // by serial from First: the act that spent it, "" is none
	back     int      // serials from this one on were given up; 0 is none
	backSeq  uint64   // the save in which that was said
	restored bool     // and they are free again
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

// GivenBack tells whether the rest of the share was given up.
func (s *Share) GivenBack() bool { return s.back != 0 }

// out tells whether a serial is neither spent nor free again.
func (s *Share) out(serial int) bool {
	return serial >= s.First && serial <= s.Last && s.spent[serial-s.First] == "" && (!s.restored || serial < s.back)
}

// open returns the units of the share that are neither spent nor free again.
func (s *Share) open() (n int) {
	for i := range s.spent {
		if s.out(s.First + i) {
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

// above is the place of a serial in the block that the share was lent from,
// nil if there is none or the block was given up from there on.
func (l *Ledger) above(s *Share, serial int) *string {
	if s.Of == "" {
		return nil
	}
	b := l.share(s.Of)
	if b == nil || b.restored && serial >= b.back {
		return nil
	}
	return &b.spent[serial-b.First]
}

// inHand tells whether the holder of a block still has a serial of it: unspent,
// not given up, and not out in a share that it lent.
func (l *Ledger) inHand(b *Share, serial int) bool {
	if !b.out(serial) || b.back != 0 && serial >= b.back {
		return false
	}
	for i := range l.shares {
		if s := &l.shares[i]; s.Of == b.ID && s.out(serial) {
			return false
		}
	}
	return true
}

// InHand returns how many units of a block its holder has not lent on.
func (l *Ledger) InHand(b *Share) (n int) {
	for serial := b.First; serial <= b.Last; serial++ {
		if l.inHand(b, serial) {
			n++
		}
	}
	return n
}

// lost counts the units of a block that are out with devices which have no
// rights any more.
func (l *Ledger) lost(b *Share) (n int) {
	for serial := b.First; serial <= b.Last; serial++ {
		for i := range l.shares {
			if s := &l.shares[i]; s.Of == b.ID && b.out(serial) && s.out(serial) && l.burned(s.Device) {
				n++
				break
			}
		}
	}
	return n
}

// LendOn returns the event by which the holder of blocks lends at most n units
// to a device, and whether it can. They are serials in a row, so they may be
// fewer than n.
func (l *Ledger) LendOn(holder, id, grant string, n int) (Event, bool) {
	if l.ended || l.burned(id) || l.burned(holder) || n < 1 {
		return Event{}, false
	}
	for i := range l.shares {
		b := &l.shares[i]
		if !b.Block || b.Device != holder {
			continue
		}
		for first := b.First; first <= b.Last; first++ {
			last := first - 1
			for last < b.Last && last-first+1 < n && l.inHand(b, last+1) {
				last++
			}
			if last >= first {
				return Event{Kind: Granted, Device: id, Grant: grant, Of: b.ID, By: holder, First: first, Last: last}, true
			}
		}
	}
	return Event{}, false
}

// Spare returns what the holder of a block can give up of it: its end, as far
// as nothing of that is out.
func (l *Ledger) Spare(block string) (Return, bool) {
	b := l.share(block)
	if b == nil || !b.Block || b.back != 0 {
		return Return{}, false
	}
	from := b.Last + 1
	for from > b.First && l.inHand(b, from-1) {
		from--
	}
	return Return{block, from}, from <= b.Last
}

// Sums says where the units of a number are. Free, Reserve, Lent, Spent,
// Burned, Entered and Doubt together are Limit, or more than it only where an
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
	Doubt   int // perhaps lent or entered before the log was put back from a copy
}

// Sums counts.
func (l *Ledger) Sums() Sums {
	out := Sums{Limit: l.limit}
	for i := range l.shares {
		if s := &l.shares[i]; s.Of == "" {
			l.add(&out, s)
		}
	}
	entered := 0
	for i := range l.entries {
		entered += l.entries[i].n
	}
	room := max(0, l.limit-out.Spent-out.Lent-out.Burned)
	out.Entered = min(entered, room)
	if l.hold.on {
		out.Entered = min(out.Entered, l.hold.entered)
	}
	out.Over = entered - out.Entered
	if rest := room - out.Entered; l.hold.on {
		out.Doubt = rest
	} else {
		out.Reserve = min(l.reserve, rest)
		out.Free = rest - out.Reserve
	}
	return out
}

func (l *Ledger) add(out *Sums, s *Share) {
	open, spent := s.open(), s.Spent()
	out.Spent += spent
	switch {
	case l.burned(s.Device):
		out.Burned += open
	case s.Block:
		lost := l.lost(s)
		out.Burned += lost
		out.Lent += open - lost
	default:
		out.Lent += open
	}
}

// Within says where the units are that the holder of blocks was lent.
func (l *Ledger) Within(holder string) Sums {
	var out Sums
	for i := range l.shares {
		s := &l.shares[i]
		if !s.Block || s.Device != holder {
			continue
		}
		open, spent, hand, lost := s.open(), s.Spent(), l.InHand(s), l.lost(s)
		if s.back != 0 {
			open = min(open, s.back-s.First-spent)
		}
		out.Limit += open + spent
		out.Spent += spent
		out.Free += hand
		out.Burned += lost
		out.Lent += open - hand - lost
	}
	return out
}

// Authorised returns how many animals count as covered.
func (s Sums) Authorised() int { return s.Spent + s.Entered }

// rights is what is in shares.
func (s Sums) rights() int { return s.Spent + s.Lent + s.Burned }

// Lendable tells whether n units may be lent to the device now.
func (l *Ledger) Lendable(id string, n int) bool {
	return n > 0 && !l.ended && !l.burned(id) && !l.hold.on && n <= l.Sums().Free
}
