package merge

// Fields of every kind of record whose events hide it and show it again.
const (
	Withdrawn = "withdrawn"
	Restored  = "restored"
)

// Standing says whether a record is to be counted.
type Standing uint8

// The ways a record can stand.
const (
	Present Standing = iota
	Hidden           // withdrawn by somebody who knew of every change
	Review           // withdrawn, and changed by somebody the withdrawer had not seen, or afterwards
)

// String returns the word for the standing.
func (s Standing) String() string { return [...]string{"present", "hidden", "review"}[s] }

// Standing returns whether the record is withdrawn, and the changes that its
// withdrawal does not know of. Withdrawing hides a record only from those who
// had nothing to add; it never destroys one.
func (s State) Standing() (Standing, []Hand) {
	open := s.withdrawals()
	if len(open) == 0 {
		return Present, nil
	}
	var unseen []Hand
	for i, n := range s.saves {
		newest := i+1 == len(s.saves) || s.saves[i+1].dev != n.dev
		if newest && !seenByAny(open, n) {
			unseen = append(unseen, n.hand())
		}
	}
	if len(unseen) > 0 {
		return Review, unseen
	}
	return Hidden, nil
}

// withdrawals returns the saves that withdrew the record and that nobody who
// knew of them took back.
func (s State) withdrawals() []save {
	restored := s.eventSaves(Restored)
	var open []save
	for _, w := range s.eventSaves(Withdrawn) {
		if !seenByAny(restored, w) {
			open = append(open, w)
		}
	}
	return open
}

func (s State) eventSaves(name string) []save {
	f := s.find(name)
	if f == nil {
		return nil
	}
	var all []save
	for _, e := range f.events {
		if i, ok := s.findSave(e.dot.Dev, e.dot.Seq); ok {
			all = append(all, s.saves[i])
		}
	}
	return all
}

func seenByAny(writers []save, n save) bool {
	for _, w := range writers {
		if w.saw(n) {
			return true
		}
	}
	return false
}

// saw reports whether the writer of w knew of n: it is the same device's own,
// or had come in at or below what the device had taken from the server.
func (w save) saw(n save) bool {
	if w.dev == n.dev {
		return n.seq <= w.seq
	}
	return n.LSN > 0 && n.LSN <= w.Base
}

// Writers returns the newest save of every device that wrote to the record.
func (s State) Writers() []Hand {
	var all []Hand
	for i, n := range s.saves {
		if i+1 == len(s.saves) || s.saves[i+1].dev != n.dev {
			all = append(all, n.hand())
		}
	}
	return all
}
