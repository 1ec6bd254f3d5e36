package compliance

import (
	"cmp"
	"runtime"
	"slices"
	"sync"
	"wayfall/permits"
	"wayfall/permits/quota"
)

// fates are the fates as a slip bears them.
var fates = [...]Fate{Pending, Kept, Transferred, Destroyed, Lost}

// Small is the fate as a slip bears it.
func (f Fate) Small() uint8 {
	return uint8(max(slices.Index(fates[:], f), 0))
}

// FateOf is the fate that a slip bears.
func FateOf(s *quota.Slip) Fate { return fates[int(s.Fate)%len(fates)] }

// Sums is a Report made from slips. The Report's lists of animals and lines
// are empty; the animals stand here instead: Table in the order of the table,
// the others by name.
type Sums struct {
	Report
	Table, Over, Bare, Seen, NoDay []uint32
}

// Summed says of which slips a report is made.
type Summed struct {
	Request
	Slips  *quota.Slips
	Effect func(*quota.Slip) Effect // "" is not concerned
	Common func(*quota.Slip) string // the common name of what the slip is
}

// Sum makes the report that Build would make from a line of every slip, by
// counting and without sorting all of them. An animal has one slip.
func Sum(q Summed) Sums {
	out := Sums{Report: header(q.Request)}
	t := &table{Summed: q}
	var parts [4][]uint32
	for i := range q.Slips.All {
		s := &q.Slips.All[i]
		if s.Has(quota.Gone) {
			continue
		}
		out.Lines++
		if s.Day.Known() && (s.Day < q.From || s.Day > q.To) {
			out.Elsewhere++
			continue
		}
		effect := q.Effect(s)
		if effect == "" {
			out.Elsewhere++
			continue
		}
		at := uint32(i)
		switch {
		case effect == Observed:
			parts[2] = append(parts[2], at)
			continue
		case effect == OverQuota:
			parts[0] = append(parts[0], at)
		case effect != Covered:
			parts[1] = append(parts[1], at)
		case !s.Day.Known():
			parts[3] = append(parts[3], at)
		default:
			t.at = append(t.at, at)
		}
		t.act(s)
		out.Balance.addSlip(q.Slips, s)
	}
	out.Species = t.tabulate(&out.Report)
	for i, into := range [...]*[]uint32{&out.Over, &out.Bare, &out.Seen, &out.NoDay} {
		slices.SortFunc(parts[i], t.byName)
		*into = t.animals(parts[i])
	}
	out.Table = t.animals(t.at)
	out.Balance.close(q.Request)
	out.Persons = t.persons()
	out.Nil = len(out.Table)+len(out.Over)+len(out.Bare)+len(out.NoDay) == 0
	return out
}

// table is a report in the making.
type table struct {
	Summed
	at   []uint32 // slips of the table
	acts map[quota.Word]map[string]int
	last acted
}

// acted is the person and month counted last: most slips follow one like them.
type acted struct {
	person quota.Word
	month  permits.Date
	counts map[string]int
	name   string
}

const daysBits = 5 // a Date without its day is its month

// act counts what a person did in a month.
func (t *table) act(s *quota.Slip) {
	if t.Slips.Words[s.Person] == "" || !s.Day.Known() {
		return
	}
	if t.last.counts == nil || t.last.person != s.Person || t.last.month != s.Day>>daysBits {
		if t.acts == nil {
			t.acts = map[quota.Word]map[string]int{}
		}
		if t.acts[s.Person] == nil {
			t.acts[s.Person] = map[string]int{}
		}
		t.last = acted{s.Person, s.Day >> daysBits, t.acts[s.Person], month(s.Day)}
	}
	t.last.counts[t.last.name]++
}

func (t *table) persons() []Acting {
	counts := map[string]map[string]int{}
	for w, months := range t.acts {
		counts[t.Slips.Words[w]] = months
	}
	return actings(t.Request, counts)
}

func (t *table) byName(a, b uint32) int {
	x, y := t.Slips.All[a].Animal, t.Slips.All[b].Animal
	switch {
	case t.Slips.Before(x, y):
		return -1
	case t.Slips.Before(y, x):
		return 1
	}
	return 0
}

func (t *table) animals(at []uint32) []uint32 {
	out := make([]uint32, len(at))
	for i, n := range at {
		out[i] = t.Slips.All[n].Animal
	}
	return out
}

// ranks gives every word that the column holds its place in their order. Two
// words that are written alike share one.
func (t *table) ranks(column func(*quota.Slip) quota.Word, written func(string) string) (rank []uint32, n int) {
	rank = make([]uint32, len(t.Slips.Words))
	var words []quota.Word
	for _, at := range t.at {
		if w := column(&t.Slips.All[at]); rank[w] == 0 {
			rank[w] = 1
			words = append(words, w)
		}
	}
	text := func(w quota.Word) string { return written(t.Slips.Words[w]) }
	slices.SortFunc(words, func(a, b quota.Word) int { return cmp.Compare(text(a), text(b)) })
	for i, w := range words {
		if i == 0 || text(words[i-1]) != text(w) {
			n++
		}
		rank[w] = uint32(n - 1)
	}
	return rank, n
}

func plain(s string) string { return s }

func orCarcass(s string) string {
	if s == "" {
		return "carcass"
	}
	return s
}

// tabulate puts the slips of the table into its order, by counting column
// after column from the last to the first, and folds them.
func (t *table) tabulate(r *Report) []Species {
	if len(t.at) == 0 {
		return nil
	}
	first := t.From >> daysBits
	byMonth := func(s *quota.Slip) uint32 { return uint32(s.Day>>daysBits - first) }
	t.order(byMonth, int(t.To>>daysBits-first)+1)
	for _, c := range [...]struct {
		column  func(*quota.Slip) quota.Word
		written func(string) string
	}{
		{func(s *quota.Slip) quota.Word { return s.County }, plain},
		{func(s *quota.Slip) quota.Word { return s.State }, plain},
		{func(s *quota.Slip) quota.Word { return s.Material }, orCarcass},
		{func(s *quota.Slip) quota.Word { return s.Taxon }, plain},
	} {
		rank, n := t.ranks(c.column, c.written)
		t.order(func(s *quota.Slip) uint32 { return rank[c.column(s)] }, n)
	}
	return t.fold(r)
}

// order sorts the slips of the table by a column of n values, keeping the
// order of equals.
func (t *table) order(column func(*quota.Slip) uint32, n int) {
	if n < 2 {
		return
	}
	ends := make([]int, n+1)
	keys := make([]uint32, len(t.at))
	for i, at := range t.at {
		keys[i] = column(&t.Slips.All[at])
		ends[keys[i]+1]++
	}
	for i := range n {
		ends[i+1] += ends[i]
	}
	sorted := make([]uint32, len(t.at))
	for i, at := range t.at {
		sorted[ends[keys[i]]] = at
		ends[keys[i]]++
	}
	t.at = sorted
}

// fold reads the ordered slips into species, states, counties and months.
func (t *table) fold(r *Report) []Species {
	var out []Species
	var groups [][]uint32
	for from := 0; from < len(t.at); {
		to := from + 1
		head := &t.Slips.All[t.at[from]]
		for to < len(t.at) && t.alike(head, &t.Slips.All[t.at[to]]) {
			to++
		}
		groups = append(groups, t.at[from:to])
		from = to
	}
	t.sortEach(groups)
	for _, g := range groups {
		head := &t.Slips.All[g[0]]
		out = t.add(out, head, Month{Month: month(head.Day), Count: len(g), Persons: t.hands(g)})
		whole := t.material(head) == "carcass"
		if whole {
			r.Individuals += len(g)
		} else {
			r.Other += len(g)
		}
		if t.Slips.Words[head.Taxon] == "" {
			r.ToIdentify += len(g)
		}
	}
	return out
}

func (t *table) material(s *quota.Slip) string { return orCarcass(t.Slips.Words[s.Material]) }

func (t *table) alike(a, b *quota.Slip) bool {
	return a.Taxon == b.Taxon && a.State == b.State && a.County == b.County && a.Day>>daysBits == b.Day>>daysBits &&
		(a.Material == b.Material || t.material(a) == t.material(b))
}

// sortEach sorts the animals of each group by name, on every core.
func (t *table) sortEach(groups [][]uint32) {
	var wait sync.WaitGroup
	cores := runtime.GOMAXPROCS(0)
	for core := range cores {
		wait.Go(func() {
			for i := core; i < len(groups); i += cores {
				slices.SortFunc(groups[i], t.byName)
			}
		})
	}
	wait.Wait()
}

// hands are the persons of a group by name.
func (t *table) hands(group []uint32) []string {
	var words []quota.Word
	for _, at := range group {
		if p := t.Slips.All[at].Person; t.Slips.Words[p] != "" && !slices.Contains(words, p) {
			words = append(words, p)
		}
	}
	var out []string
	for _, w := range words {
		out = append(out, t.Slips.Words[w])
	}
	slices.Sort(out)
	return out
}

// add adds a month to the last group of each level, or begins one.
func (t *table) add(out []Species, head *quota.Slip, m Month) []Species {
	l := Line{Taxon: t.Slips.Words[head.Taxon], Material: t.Slips.Words[head.Material], State: t.Slips.Words[head.State],
		County: t.Slips.Words[head.County], Count: m.Count}
	if n := len(out); n == 0 || out[n-1].Taxon != l.Taxon || out[n-1].Material != material(&l) {
		l.English = t.Common(head)
	}
	r := Report{Species: out}
	c := r.species(&l).state(&l).county(&l)
	c.Months = append(c.Months, m)
	return r.Species
}

func (b *Balance) addSlip(all *quota.Slips, s *quota.Slip) {
	if orCarcass(all.Words[s.Material]) == "carcass" {
		b.add(&Line{Fate: FateOf(s)})
	}
}
