package quota

import (
	"sort"
	"wayfall/permits"
)

// row is what counts against one number for one taxon, in order of the find,
// with sums, so that a question about any window costs a search and not a
// count. A ledger makes it when it is first asked for.
type row struct {
	at    []int            // in the ledger's uses
	sums  []int            // sums[i] is what the first i of them come to
	known int              // of them, how many have a day; those stand first
	of    map[string][]int // animal to its places in at
}

type rowKey struct {
	authority string
	quota     *permits.Quota
	taxon     string
}

func (l *Ledger) row(a *permits.Authority, q *permits.Quota, taxon string) *row {
	key := rowKey{a.ID, q, taxon}
	if q.Per != "taxon" {
		key.taxon = ""
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	r := l.rows[key]
	if r == nil {
		r = l.newRow(a, q, taxon)
		if l.rows == nil {
			l.rows = map[rowKey]*row{}
		}
		l.rows[key] = r
	}
	return r
}

func (l *Ledger) newRow(a *permits.Authority, q *permits.Quota, taxon string) *row {
	r := &row{sums: []int{0}, of: map[string][]int{}}
	for _, i := range l.by[a.ID] {
		u := &l.uses[i]
		if !l.concerns(u, q, taxon) {
			continue
		}
		r.of[u.Animal] = append(r.of[u.Animal], len(r.at))
		r.at = append(r.at, i)
		r.sums = append(r.sums, r.sums[len(r.sums)-1]+u.n())
		if u.Found.Known() {
			r.known = len(r.at)
		}
	}
	return r
}

// before returns how many of the row come before a use.
func (r *row) before(l *Ledger, use *Use) int {
	return sort.Search(len(r.at), func(i int) bool { return earlier(&l.uses[r.at[i]], use) >= 0 })
}

// sum adds up what lies in the window, or has no day, among the first end.
func (r *row) sum(l *Ledger, from, to permits.Date, end int) int {
	day := func(i int) permits.Date { return l.uses[r.at[i]].Found.Date }
	lo := sort.Search(r.known, func(i int) bool { return day(i) >= from })
	hi := min(end, sort.Search(r.known, func(i int) bool { return day(i) > to }))
	total := r.sums[max(end, r.known)] - r.sums[r.known]
	if hi > lo {
		total += r.sums[hi] - r.sums[lo]
	}
	return total
}
