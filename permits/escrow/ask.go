package escrow

// Ask is what is known of a device that asks for a share.
type Ask struct {
	Device string
	Phones int // that may ask for shares of this number
	Recent int // units the device used in the last week
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
		if s := &l.shares[i]; s.Device == a.Device {
			held += s.Left()
		}
	}
	day := (a.Recent + 6) / 7
	if held >= max(lowWater, day) {
		return 0
	}
	part := max(1, l.Sums().Free/max(1, a.Phones))
	n := min(max(2*lowWater, 3*day)-held, part)
	if !l.Lendable(a.Device, n) {
		return 0
	}
	return n
}

// Lend returns the event that lends n units to the device, and whether they may
// be lent.
func (l *Ledger) Lend(id, grant string, n int) (Event, bool) {
	if !l.Lendable(id, n) {
		return Event{}, false
	}
	return Event{Kind: Granted, Device: id, Grant: grant, First: l.next + 1, Last: l.next + n}, true
}
