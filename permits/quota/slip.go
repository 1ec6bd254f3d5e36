package quota

import (
	"cmp"
	"slices"
	"wayfall/permits"
)

// Word is the place of a word in a list that the caller keeps. The zero Word
// is the empty one.
type Word uint32

// Marks are what a Slip says with yes or no.
type Marks uint16

// The marks.
const (
	Gone        Marks = 1 << iota // no longer an animal of its own: in no sum
	Taken                         // in somebody's hand; all else is exempt from numbers
	Provisional                   // not named yet, or not decided yet
	Sample                        // judged by sample rules
	LateDone                      // a duty on it was done after it was due
	Agency                        // went to an agency or laboratory
	Away                          // went where the institution never receives it
)

// Slip is one animal in small: what counting reads of it, with words as their
// places in a list. A million of them are 60 megabytes and are read through in
// some milliseconds, so that nothing needs to be kept per number or per year.
type Slip struct {
	Animal uint32 // its place in the caller's list of animals
	Cover  uint32 // how it stands to authorities, in a list of the caller
	Found  permits.Moment
	Day    permits.Date // the day that puts it in a year

	Taxon, Name, Material, State, County, Person Word

	// Traits is a place in the list of traits that the caller keeps; 0 is
	// nothing known.
	Traits   Word
	Received permits.Date // by the institution, 0 if not yet

	Due    permits.Date // the first of its duties that are open, 0 if none has a day
	Handed [2]permits.Date
	Marks  Marks
	Fate   uint8 // where it is, as compliance.Fate.Small says
}

// Has tells whether the slip bears all of the marks.
func (s *Slip) Has(m Marks) bool { return s.Marks&m == m }

// Slips are the animals of an institution in small.
type Slips struct {
	All   []Slip
	Words []string
	// Traits are what animals are beside their kind. It may be empty.
	Traits []permits.Traits
	// Before orders animals by name, as every list of them is ordered.
	Before func(a, b uint32) bool
}

func (s *Slips) word(w Word) string { return s.Words[w] }

// Count is how a number stands for one taxon, as Standing says it: Over are
// the animals past the ceiling, in order of the find.
type Count struct {
	Used, Provisional, Limit, Excess int
	Over                             []uint32
	Near                             bool // the number has begun to warn
}

// Counts counts one number for several taxa in the window that contains the
// day, in one pass over the slips that counted admits. For a number over a
// list or over everything the taxa are one, whatever its name.
func (s *Slips) Counts(a *permits.Authority, q *permits.Quota, taxa []string, on permits.Date, names *permits.Checklist, counted func(*Slip) bool) []Count {
	c := counter{slips: s, quota: q, taxa: taxa, names: names, seen: map[Word][]int{}, reach: map[[2]Word]permits.Answer{}}
	c.from, c.to = Window(a, q, on)
	out := make([]Count, len(taxa))
	for i := range out {
		out[i].Limit = q.Limit
	}
	over := false
	for i := range s.All {
		u := &s.All[i]
		when := c.since(u)
		if u.Has(Gone) || !when.counts || !when.within(c.from, c.to) || !counted(u) || c.concerns(u) == permits.No {
			continue
		}
		for _, at := range c.toward(u.Taxon) {
			out[at].Used++
			if u.Has(Provisional) || when.awaiting || c.concerns(u) == permits.Unknown {
				out[at].Provisional++
			}
			over = over || out[at].Used > q.Limit
		}
	}
	for i := range out {
		out[i].Near = q.WarnsFrom() > 0 && out[i].Used >= q.WarnsFrom()
	}
	if over && !q.Unlimited {
		c.excess(out, counted)
	}
	return out
}

// counter counts one number.
type counter struct {
	slips    *Slips
	quota    *permits.Quota
	taxa     []string
	names    *permits.Checklist
	from, to permits.Date
	seen     map[Word][]int // taxon of a slip to the taxa that it counts toward
	reach    map[[2]Word]permits.Answer
}

// since is when a slip counts against the number.
func (c *counter) since(u *Slip) since {
	stay := Stay{Received: u.Received, Left: !u.Has(Taken), Away: u.Has(Away)}
	return stay.stage(c.quota, u.Found)
}

// concerns tells whether a slip belongs to the number by material and traits.
func (c *counter) concerns(u *Slip) permits.Answer {
	if len(c.quota.Units) == 0 && !c.quota.Narrow() {
		return permits.Yes
	}
	key := [2]Word{u.Material, u.Traits}
	out, ok := c.reach[key]
	if !ok {
		var t permits.Traits
		if int(u.Traits) < len(c.slips.Traits) {
			t = c.slips.Traits[u.Traits]
		}
		out = c.quota.Concerns(c.slips.word(u.Material), &t)
		c.reach[key] = out
	}
	return out
}

func (c *counter) toward(taxon Word) []int {
	list, ok := c.seen[taxon]
	if !ok {
		l := Ledger{names: c.names}
		use := Use{Taxon: c.slips.word(taxon)}
		for i, t := range c.taxa {
			if l.counts(&use, c.quota, t) {
				list = append(list, i)
			}
		}
		c.seen[taxon] = list
	}
	return list
}

// excess says who is past the ceiling.
func (c *counter) excess(out []Count, counted func(*Slip) bool) {
	lists := make([][]*Slip, len(out))
	for i := range c.slips.All {
		u := &c.slips.All[i]
		if when := c.since(u); u.Has(Gone) || !when.counts || !when.within(c.from, c.to) || !counted(u) || c.concerns(u) == permits.No {
			continue
		}
		for _, at := range c.toward(u.Taxon) {
			if out[at].Used > c.quota.Limit {
				lists[at] = append(lists[at], u)
			}
		}
	}
	for at, list := range lists {
		if len(list) == 0 {
			continue
		}
		slices.SortFunc(list, c.earlier)
		past := list[max(c.quota.Limit, 0):]
		out[at].Excess = out[at].Used - c.quota.Limit
		out[at].Over = make([]uint32, len(past))
		for i, u := range past {
			out[at].Over[i] = u.Animal
		}
	}
}

// earlier orders slips as uses are ordered.
func (c *counter) earlier(a, b *Slip) int {
	switch when := cmp.Or(sooner(c.since(a).at, c.since(b).at), sooner(a.Found, b.Found)); {
	case when != 0:
		return when
	case c.slips.Before(a.Animal, b.Animal):
		return -1
	case c.slips.Before(b.Animal, a.Animal):
		return 1
	}
	return 0
}
