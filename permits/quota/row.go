package quota

import (
	"cmp"
	"slices"
	"sort"
	"wayfall/permits"
)

// row is what counts against one number for one taxon, in the order in which
// the number counts it, with sums, so that a question about any window costs a
// search and not a count. A ledger makes it when it is first asked for.
type row struct {
	at    []int            // in the ledger's uses
	since []since          // when each of them counts
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

// counted is one use with when it counts.
type counted struct {
	use   int
	since since
}

func (l *Ledger) newRow(a *permits.Authority, q *permits.Quota, taxon string) *row {
	var all []counted
	for _, i := range l.by[a.ID] {
		u := &l.uses[i]
		if s := u.stage(q, u.Found); s.counts && l.concerns(u, q, taxon) {
			all = append(all, counted{i, s})
		}
	}
	if q.CountsWhen == permits.AtPickUp || q.CountsWhen == permits.AtDeposit { // the ledger is in the order of the find
		slices.SortStableFunc(all, func(a, b counted) int {
			return cmp.Or(sooner(a.since.at, b.since.at), earlier(&l.uses[a.use], &l.uses[b.use]))
		})
	}
	r := &row{sums: []int{0}, of: map[string][]int{}}
	for _, c := range all {
		u := &l.uses[c.use]
		r.of[u.Animal] = append(r.of[u.Animal], len(r.at))
		r.at, r.since = append(r.at, c.use), append(r.since, c.since)
		r.sums = append(r.sums, r.sums[len(r.sums)-1]+u.n())
		if c.since.at.Known() {
			r.known = len(r.at)
		}
	}
	return r
}

// before returns how many of the row come before a use.
func (r *row) before(l *Ledger, q *permits.Quota, use *Use) int {
	mine := use.stage(q, use.Found)
	return sort.Search(len(r.at), func(i int) bool {
		return cmp.Or(sooner(r.since[i].at, mine.at), earlier(&l.uses[r.at[i]], use)) >= 0
	})
}

// sum adds up what lies in the window, or may, among the first end.
func (r *row) sum(from, to permits.Date, end int) int {
	day := func(i int) permits.Date { return r.since[i].at.Date }
	lo := sort.Search(r.known, func(i int) bool { return day(i) >= from })
	hi := min(end, sort.Search(r.known, func(i int) bool { return day(i) > to }))
	total := 0
	for i := r.known; i < end; i++ {
		if r.since[i].within(from, to) {
			total += r.sums[i+1] - r.sums[i]
		}
	}
	if hi > lo {
		total += r.sums[hi] - r.sums[lo]
	}
	return total
}
