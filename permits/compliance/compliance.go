// Package compliance folds animals into the numbers of a permit's year: by
// species, state, county and month with subtotals, and a reconciliation of
// where they went.
//
// It promises that every line it is handed is told of exactly once, in the
// table or in a section that says why it is not there, and that the same lines
// give the same report in any order. It lays nothing out, signs nothing and
// decides nothing: what covers an animal is told by its line.
//
// Build is the plain form. Sum makes the same report from a million slips.
package compliance

import (
	"cmp"
	"slices"
	"wayfall/permits"
)

// Effect is how the permit stands to an animal. The zero Effect is unknown and
// counts as not covered.
type Effect string

// The effects.
const (
	Covered    Effect = "covered"
	OverQuota  Effect = "over_quota"
	NotCovered Effect = "not_covered"
	Observed   Effect = "observed" // recorded and never taken
)

// Fate is where an animal is or went. The zero Fate is unknown and counts as
// pending.
type Fate string

// The fates.
const (
	Kept        Fate = "kept"
	Transferred Fate = "transferred"
	Destroyed   Fate = "destroyed"
	Lost        Fate = "lost"
	Pending     Fate = "pending"
)

// Line is one animal, or one lot of nests, eggs or parts, of the ledger.
type Line struct {
	Animal    string       `json:"animal"`
	Taxon     string       `json:"taxon"` // scientific name
	English   string       `json:"english,omitempty"`
	Material  string       `json:"material,omitempty"` // "" counts as a carcass
	Count     int          `json:"count,omitempty"`    // 0 counts as 1; an animal is 1
	State     string       `json:"state,omitempty"`
	County    string       `json:"county,omitempty"`
	On        permits.Date `json:"on,omitempty"`
	Person    string       `json:"person,omitempty"`
	Authority string       `json:"authority,omitempty"`
	Effect    Effect       `json:"effect"`
	Fate      Fate         `json:"fate"`
	Recipient string       `json:"recipient,omitempty"`
	Accession string       `json:"accession,omitempty"`
	Notice    string       `json:"notice,omitempty"` // reference of a notice to an agency
	Identify  bool         `json:"identify,omitempty"`
}

func (l *Line) n() int { return max(l.Count, 1) }

func (l *Line) individual() bool { return l.Material == "" || l.Material == "carcass" }

// Request says which report is asked for.
type Request struct {
	Authority *permits.Authority
	From, To  permits.Date // both included
	AsOf      permits.Moment
	// HeldBefore is how many individuals were held when the period began.
	HeldBefore int
	// Counted is how many are in the house at the end by a count of its own,
	// where there was one.
	Counted *int
}

// Month is the last level of the table.
type Month struct {
	Month   string   `json:"month"` // 2026-05
	Count   int      `json:"count"`
	Persons []string `json:"persons"`
	Animals []string `json:"animals"`
}

// County is the months of a county.
type County struct {
	County   string  `json:"county"`
	Months   []Month `json:"months"`
	Subtotal int     `json:"subtotal"`
}

// State is the counties of a state.
type State struct {
	State    string   `json:"state"`
	Counties []County `json:"counties"`
	Subtotal int      `json:"subtotal"`
}

// Species is the states of a species, in one material.
type Species struct {
	Taxon    string  `json:"taxon"`
	English  string  `json:"english,omitempty"`
	Material string  `json:"material"`
	States   []State `json:"states"`
	Subtotal int     `json:"subtotal"`
}

// Balance says where what was taken went, and how the books compare with a
// count in the house.
type Balance struct {
	HeldBefore  int  `json:"held_before"`
	Acquired    int  `json:"acquired"`
	Kept        int  `json:"kept"`
	Transferred int  `json:"transferred"`
	Destroyed   int  `json:"destroyed"`
	Lost        int  `json:"lost"`
	Pending     int  `json:"pending"`
	HeldAfter   int  `json:"held_after"` // by the books
	Counted     *int `json:"counted,omitempty"`
	Difference  int  `json:"difference,omitempty"` // counted less books; 0 if nobody counted
}

// Acting is one person's year: the animals of each month in which the person
// was listed, or acted without being.
type Acting struct {
	Person string      `json:"person"`
	Role   string      `json:"role,omitempty"`
	Listed bool        `json:"listed"`
	Months []ActingRow `json:"months"`
	Total  int         `json:"total"`
}

// ActingRow is a person's month. A listed month without an animal is a line of
// its own, which says that there was no activity.
type ActingRow struct {
	Month      string `json:"month"`
	Count      int    `json:"count"`
	NoActivity bool   `json:"no_activity,omitempty"`
	Unlisted   bool   `json:"unlisted,omitempty"`
}

// Report is a permit's year in numbers.
type Report struct {
	Authority string         `json:"authority"`
	Number    string         `json:"number,omitempty"`
	Holder    string         `json:"holder"`
	From      permits.Date   `json:"from"`
	To        permits.Date   `json:"to"`
	Due       permits.Date   `json:"due,omitempty"`
	AsOf      permits.Moment `json:"as_of,omitzero"`
	Late      bool           `json:"late"`
	Nil       bool           `json:"nil"` // nothing was taken: a report is due all the same
	Sample    bool           `json:"sample,omitempty"`

	Species     []Species `json:"species"`
	Individuals int       `json:"individuals"` // sum over species of whole animals
	Other       int       `json:"other"`       // nests, eggs and parts, counted apart
	Balance     Balance   `json:"balance"`
	Persons     []Acting  `json:"persons"`

	OverQuota  []Line `json:"over_quota,omitempty"`
	NotCovered []Line `json:"not_covered,omitempty"`
	Observed   []Line `json:"observed,omitempty"`
	Undated    []Line `json:"undated,omitempty"` // no day: cannot be put in a month
	Repeated   []Line `json:"repeated,omitempty"`
	Elsewhere  int    `json:"elsewhere"` // lines of other permits or other years
	ToIdentify int    `json:"to_identify"`
	Lines      int    `json:"lines"` // how many lines were handed in
}

// Build folds lines into a report.
func Build(q Request, lines []Line) Report {
	r := header(q)
	r.Lines = len(lines)
	mine := sorted(q, lines)
	r.Elsewhere = len(lines) - len(mine)
	table := make([]Line, 0, len(mine))
	for i := range mine {
		l := &mine[i]
		switch {
		case i > 0 && mine[i-1].Animal == l.Animal && l.Animal != "":
			r.Repeated = append(r.Repeated, *l)
		case l.Effect == Observed:
			r.Observed = append(r.Observed, *l)
		case l.Effect == OverQuota:
			r.OverQuota = append(r.OverQuota, *l)
		case l.Effect != Covered:
			r.NotCovered = append(r.NotCovered, *l)
		case !l.On.Known():
			r.Undated = append(r.Undated, *l)
		default:
			table = append(table, *l)
		}
	}
	r.tabulate(table)
	r.balance(q, table)
	r.persons(q, mine)
	r.Nil = len(table)+len(r.OverQuota)+len(r.NotCovered)+len(r.Undated) == 0
	return r
}

// header is a report before anything is counted.
func header(q Request) Report {
	a := q.Authority
	r := Report{Authority: a.ID, Number: a.Number, Holder: a.Holder, From: q.From, To: q.To, AsOf: q.AsOf, Sample: a.Sample}
	r.Due = a.ReportDue.In(q.To.Year() + 1)
	r.Late = r.Due.Known() && q.AsOf.Date > r.Due
	return r
}

// sorted returns the lines of the permit and period, ordered by animal and
// then by everything that could make two lines of an animal differ, so that
// the order in which they came does not matter. A line without a day may be
// of this year.
func sorted(q Request, lines []Line) []Line {
	var mine []Line
	for i := range lines {
		l := &lines[i]
		if l.Authority == q.Authority.ID && (!l.On.Known() || l.On >= q.From && l.On <= q.To) {
			mine = append(mine, *l)
		}
	}
	slices.SortFunc(mine, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.Animal, b.Animal), cmp.Compare(a.On, b.On), cmp.Compare(a.Effect, b.Effect),
			cmp.Compare(a.Taxon, b.Taxon), cmp.Compare(a.State, b.State), cmp.Compare(a.County, b.County),
			cmp.Compare(a.Person, b.Person), cmp.Compare(a.Fate, b.Fate), cmp.Compare(a.Count, b.Count),
			cmp.Compare(a.Material, b.Material), cmp.Compare(a.Recipient, b.Recipient), cmp.Compare(a.English, b.English),
			cmp.Compare(a.Accession, b.Accession), cmp.Compare(a.Notice, b.Notice))
	})
	return mine
}

func month(d permits.Date) string {
	if !d.Known() {
		return ""
	}
	return d.String()[:7]
}

func material(l *Line) string {
	if l.Material == "" {
		return "carcass"
	}
	return l.Material
}
