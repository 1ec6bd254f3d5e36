package escrow

// Ask is what is known of a device that asks for a share.
type Ask struct {
	Device string
	Phones int // that may ask for shares of this number, those behind other servers too
	Behind int // phones for which the device asks; 0 is itself alone
	Recent int // units that it, or they, used in the last week
}

// lowWater is how many units a phone keeps at least before it is lent more.
const lowWater = 2

// Reserve is how much of a number is kept back for entries at the desk: a
// tenth.
func Reserve(limit int) int { return limit / 10 }

// TooSmall tells that a number is not divided at all: with as many phones as
// units or more, every share would be an accident.
func TooSmall(limit, phones int) bool { return limit <= phones }

// Propose returns how many units the device should be lent now, 0 for none. It
// is none while the device still holds what it needs for a day, so asking
// again, after an answer that was lost, lends nothing twice. Otherwise it fills
// up to what the device uses in three days or so, but never beyond its equal
// part of what is free.
func (l *Ledger) Propose(a Ask) int {
	if TooSmall(l.limit, a.Phones) {
		return 0
	}
	held := 0
	for i := range l.shares {
		switch s := &l.shares[i]; {
		case s.Device != a.Device || s.Of != "":
		case s.Block:
			held += l.InHand(s)
		default:
			held += s.Left()
		}
	}
	n := a.wanted(held, l.Sums().Free)
	if !l.Lendable(a.Device, n) {
		return 0
	}
	return n
}

// ProposeOn is Propose for a device behind the holder of blocks. Of a block as
// small as its phones are many nothing is divided either.
func (l *Ledger) ProposeOn(holder string, a Ask) int {
	all := l.Within(holder)
	if TooSmall(all.Limit, a.Phones) {
		return 0
	}
	held := 0
	for i := range l.shares {
		if s := &l.shares[i]; s.Device == a.Device && s.Of != "" && l.share(s.Of).Device == holder {
			held += s.Left()
		}
	}
	return a.wanted(held, all.Free)
}

// wanted is by how much to fill up what a device holds, out of what is free.
func (a Ask) wanted(held, free int) int {
	phones, day := max(1, a.Behind), (a.Recent+6)/7
	if held >= max(lowWater*phones, day) {
		return 0
	}
	part := max(1, free*phones/max(phones, a.Phones))
	return min(max(2*lowWater*phones, 3*day)-held, part, free)
}

// Lend returns the event that lends n units to the device, and whether they may
// be lent.
func (l *Ledger) Lend(id, grant string, n int) (Event, bool) {
	if !l.Lendable(id, n) {
		return Event{}, false
	}
	return Event{Kind: Granted, Device: id, Grant: grant, First: l.next + 1, Last: l.next + n}, true
}
