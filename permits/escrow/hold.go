package escrow

import "slices"

// hold stops the lending of a number whose log was put back from a copy, until
// it is known again what is out. Shares that were lent after the copy are known
// only to those who hold them, and animals that were entered after it only to
// people.
type hold struct {
	on      bool
	sure    bool     // a person is not needed
	waits   []string // devices that are still to be heard
	entered int      // animals that were entered without a share and covered before
}

// hear takes a device off those that are waited for.
func (h *hold) hear(id string) {
	h.waits = slices.DeleteFunc(h.waits, func(w string) bool { return w == id })
	if h.on && h.sure && len(h.waits) == 0 {
		*h = hold{}
	}
}

func (l *Ledger) applyHold(e *Event) {
	switch e.Kind {
	case Known:
		l.device(e.Device).known = true
	case PutBack:
		if !l.hold.on {
			l.hold.entered = l.Sums().Entered
		}
		l.hold.on, l.hold.sure = true, e.Count == 0
		l.hold.waits = l.hold.waits[:0:0]
		for i := range l.devices {
			if d := &l.devices[i]; d.known && d.burned == "" {
				l.hold.waits = append(l.hold.waits, d.id)
			}
		}
		for i := range l.shares {
			s := &l.shares[i]
			if s.Of == "" && !l.burned(s.Device) && !slices.Contains(l.hold.waits, s.Device) {
				l.hold.waits = append(l.hold.waits, s.Device)
			}
		}
		l.hold.hear("")
	case Heard:
		l.hold.hear(e.Device)
	case Vouched:
		l.hold = hold{}
	}
}

// Waits tells whether nothing is lent because the log was put back from a
// copy, and which devices have not said since what they hold.
func (l *Ledger) Waits() (devices []string, stopped bool) {
	return slices.Clone(l.hold.waits), l.hold.on
}

// Missing returns the shares of a device that it says it holds and the ledger
// does not know, as the events that enter them. Shares of other servers' blocks
// are theirs to tell.
func (l *Ledger) Missing(device string, held []Holding) []Event {
	var out []Event
	for i := range held {
		h := &held[i]
		if h.Device == device && h.Of == "" && h.First >= 1 && h.Last >= h.First && l.share(h.ID) == nil {
			out = append(out, Event{Kind: Granted, Device: device, Grant: h.ID, Block: h.Block, First: h.First, Last: h.Last})
		}
	}
	return out
}
