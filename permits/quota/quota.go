// Package quota counts what has been taken under the numbers that authorities
// state. It orders uses by the time of the find, so that of two that together
// pass a number the later one is the excess, whoever synchronised first. It
// never drops a use and never refuses one: it says which are over. It grants
// and spends nothing.
package quota

import (
	"cmp"
	"slices"
	"sync"
	"wayfall/permits"
)

// Use is one animal, or several of a kind, counted under an authority.
type Use struct {
	Animal      string         `json:"animal"`
	Authority   string         `json:"authority"`
	Taxon       string         `json:"taxon"` // scientific name, or a vague name
	Material    string         `json:"material,omitempty"`
	Count       int            `json:"count,omitempty"` // 0 counts as 1
	Found       permits.Moment `json:"found"`
	Person      string         `json:"person,omitempty"`
	Provisional bool           `json:"provisional,omitempty"` // not named yet, or not decided yet
	Exempt      bool           `json:"exempt,omitempty"`      // under no number

	permits.Traits
	Stay
}

// Stay is what became of an animal, as far as numbers ask.
type Stay struct {
	PickedUp permits.Moment `json:"picked_up,omitzero"` // unknown: when it was found
	Received permits.Date   `json:"received,omitempty"` // by the institution; unknown: not yet
	Left     bool           `json:"left,omitempty"`     // where it lay
	Away     bool           `json:"away,omitempty"`     // it went where the institution never receives it
}

// since is when an animal counts against a number: at a moment, or, where that
// is not known, on some day not before another.
type since struct {
	at       permits.Moment
	least    permits.Date
	counts   bool
	awaiting bool // it counts because it may yet be received
}

// stage tells when an animal that was found at a moment counts.
func (s *Stay) stage(q *permits.Quota, found permits.Moment) since {
	switch q.CountsWhen {
	case permits.AtFind:
		return since{at: found, least: found.Date, counts: true}
	case permits.AtDeposit:
		if s.Received.Known() {
			return since{at: permits.Moment{Date: s.Received}, counts: !s.Left}
		}
		return since{least: found.Date, counts: !s.Left && !s.Away, awaiting: true}
	case permits.AtPickUp:
		if s.PickedUp.Known() {
			found = s.PickedUp
		}
	}
	return since{at: found, least: found.Date, counts: !s.Left}
}

// within tells whether the day lies in the window; an unknown one may.
func (s *since) within(from, to permits.Date) bool {
	if !s.at.Known() {
		return s.least <= to
	}
	return s.at.Date >= from && s.at.Date <= to
}

func (u *Use) n() int { return max(u.Count, 1) }

// Window returns the first and the last day of the window of the quota that
// contains the day. A permit year runs from the day of the year on which the
// authority began. An unknown day or window gives unknown days.
func Window(a *permits.Authority, q *permits.Quota, on permits.Date) (from, to permits.Date) {
	if !on.Known() {
		return 0, 0
	}
	switch q.Window {
	case "calendar_year":
		return permits.NewDate(on.Year(), 1, 1), permits.NewDate(on.Year(), 12, 31)
	case "permit_year":
		if !a.ValidFrom.Known() || on < a.ValidFrom {
			return 0, 0
		}
		years := on.Year() - a.ValidFrom.Year()
		from = a.ValidFrom.AddMonths(12 * years)
		if from > on {
			from = a.ValidFrom.AddMonths(12 * (years - 1))
		}
		return from, from.AddMonths(12).AddDays(-1)
	case "season":
		return q.Season.Around(on)
	case "event": // two visits of one day cannot be told apart
		return on, on
	case "permit_life":
		if !a.ValidTo.Known() {
			return a.ValidFrom, permits.NewDate(9999, 12, 31)
		}
		return a.ValidFrom, a.ValidTo
	}
	return 0, 0
}

// Ledger is every use of an institution's authorities.
type Ledger struct {
	uses  []Use
	by    map[string][]int // authority to uses, in order of the find
	names *permits.Checklist
	// grants are what one device may still take, by authority, quota and taxon.
	grants map[grantKey]int

	mu   sync.Mutex
	rows map[rowKey]*row
}

type grantKey struct{ authority, quota, taxon string }

// NewLedger sorts uses by authority and time of the find. The checklist says
// which vague names a use may belong to; it may be nil.
func NewLedger(uses []Use, names *permits.Checklist) *Ledger {
	l := &Ledger{uses: slices.Clone(uses), by: map[string][]int{}, names: names}
	slices.SortStableFunc(l.uses, func(a, b Use) int { return earlier(&a, &b) })
	for i := range l.uses {
		l.by[l.uses[i].Authority] = append(l.by[l.uses[i].Authority], i)
	}
	return l
}

// earlier orders uses by the time of the find, then by animal, so that every
// replica gives the same order. An unknown time sorts last: what cannot be
// shown to be earlier is the excess one.
func earlier(a, b *Use) int {
	return cmp.Or(sooner(a.Found, b.Found), cmp.Compare(a.Animal, b.Animal))
}

// sooner orders times of finds, the unknown one last.
func sooner(a, b permits.Moment) int {
	switch {
	case a.Known() != b.Known():
		if a.Known() {
			return -1
		}
		return 1
	case a.Before(b):
		return -1
	case b.Before(a):
		return 1
	}
	return 0
}

// Standing is how a number stands.
type Standing struct {
	Used        int   // what counts, provisional uses included
	Provisional int   // of them, not settled
	Limit       int   // the ceiling
	Over        []Use // the uses past the ceiling, in order of the find
	Excess      int   // how many animals those are past it
	Near        bool  // the number has begun to warn
}

// Standing counts a quota for a taxon in the window that contains the day. For
// a quota over a list or over everything the taxon does not matter.
func (l *Ledger) Standing(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) Standing {
	s := Standing{Limit: q.Limit}
	l.each(a, q, taxon, on, func(u *Use, open bool) {
		s.Used += u.n()
		if u.Provisional || open {
			s.Provisional += u.n()
		}
		if s.Used > q.Limit && !q.Unlimited {
			s.Over = append(s.Over, *u)
			s.Excess = s.Used - q.Limit
		}
	})
	s.Near = q.WarnsFrom() > 0 && s.Used >= q.WarnsFrom()
	return s
}

// each calls f with what counts in the window that contains the day, in order,
// and whether it only may count.
func (l *Ledger) each(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date, f func(u *Use, open bool)) {
	from, to := Window(a, q, on)
	r := l.row(a, q, taxon)
	for k, i := range r.at {
		if u := &l.uses[i]; r.since[k].within(from, to) {
			f(u, r.since[k].awaiting || q.Concerns(u.Material, &u.Traits) == permits.Unknown)
		}
	}
}

// concerns tells whether a use counts against the quota for the taxon in
// whatever window it lies. One of which a trait is not known counts against
// every number to which it may belong.
func (l *Ledger) concerns(u *Use, q *permits.Quota, taxon string) bool {
	return !u.Exempt && q.Concerns(u.Material, &u.Traits) != permits.No && l.counts(u, q, taxon)
}

// counts tells whether a use counts against the quota for the taxon. One that
// is not named to species counts provisionally against everything it could be.
func (l *Ledger) counts(u *Use, q *permits.Quota, taxon string) bool {
	if len(q.ExemptTaxa) > 0 && l.exempt(u.Taxon, q) {
		return false
	}
	if q.Per == "all" {
		return true
	}
	if u.Taxon == taxon && q.Per == "taxon" {
		return true
	}
	if l.names == nil {
		return q.Per == "list" && contains(q.Taxa, u.Taxon)
	}
	for _, t := range l.names.Resolve(u.Taxon, true, nil).Taxa {
		if q.Exempts(t) {
			continue
		}
		if q.Per == "taxon" && t.Name == taxon || q.Per == "list" && isAny(t, q.Taxa) {
			return true
		}
	}
	return false
}

// exempt tells whether everything that the name may stand for is left out.
func (l *Ledger) exempt(name string, q *permits.Quota) bool {
	if l.names == nil {
		return contains(q.ExemptTaxa, name)
	}
	all := l.names.Resolve(name, true, nil)
	for _, t := range all.Taxa {
		if !q.Exempts(t) {
			return false
		}
	}
	return len(all.Taxa) > 0
}

func isAny(t *permits.Taxon, selectors []string) bool {
	for _, s := range selectors {
		if t.Is(s) {
			return true
		}
	}
	return false
}

// Used tells how much of the number is used and how much is left; with a grant
// set, no more is left than the grant. It is what a check asks of a tally.
func (l *Ledger) Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	if from, _ := Window(a, q, on); !from.Known() && q.Window != "permit_life" {
		return 0, 0, false
	}
	row := l.row(a, q, taxon)
	from, to := Window(a, q, on)
	used = row.sum(from, to, len(row.at))
	left = q.Limit - used
	if l.grants != nil {
		left = min(left, l.grants[l.grantFor(a, q, taxon)])
	}
	return used, left, true
}

func (l *Ledger) grantFor(a *permits.Authority, q *permits.Quota, taxon string) grantKey {
	if q.Per != "taxon" {
		taxon = ""
	}
	return grantKey{a.ID, q.ID, taxon}
}

// Grant sets what this device may still take of a number while offline. Once
// one grant is set, a number without a grant has nothing left.
func (l *Ledger) Grant(authority, quota, taxon string, left int) {
	if l.grants == nil {
		l.grants = map[grantKey]int{}
	}
	l.grants[grantKey{authority, quota, taxon}] = left
}

// Before is a tally that counts only the uses found before one animal, for
// judging an animal that is in the ledger already.
type Before struct {
	Ledger *Ledger
	Use    Use
}

// Used counts as Ledger.Used does, but only what was found earlier than the
// animal. What is left ignores grants: the animal is in the hand.
func (b Before) Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	if from, _ := Window(a, q, on); !from.Known() && q.Window != "permit_life" {
		return 0, 0, false
	}
	l := b.Ledger
	row := l.row(a, q, taxon)
	from, to := Window(a, q, on)
	before := row.before(l, q, &b.Use)
	used = row.sum(from, to, before)
	for _, i := range row.of[b.Use.Animal] { // its own uses do not count against it
		if u := &l.uses[row.at[i]]; i < before && row.since[i].within(from, to) {
			used -= u.n()
		}
	}
	return used, q.Limit - used, true
}

// Fixed is a tally of plain numbers, for tests and for stated balances: used
// by authority and quota, and by taxon where the quota is per taxon. What it
// does not state is none.
type Fixed []Stated

// Stated is one number of a Fixed tally.
type Stated struct {
	Authority string `json:"authority"`
	Quota     string `json:"quota"`
	Taxon     string `json:"taxon,omitempty"`
	Used      int    `json:"used"`
}

// Used looks the number up.
func (f Fixed) Used(a *permits.Authority, q *permits.Quota, taxon string, _ permits.Date) (used, left int, known bool) {
	for _, s := range f {
		if s.Authority == a.ID && s.Quota == q.ID && (q.Per != "taxon" || s.Taxon == taxon) {
			used += s.Used
		}
	}
	return used, q.Limit - used, true
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
