package reports

import (
	"wayfall/permits"
	"wayfall/server/catalogue"
)

// Balance is how much of one number of an authority is used. Each count is in
// animals, by canonical animal.
type Balance struct {
	Quota     string // id of the quota
	Name      string // what it counts, in words
	Limit     int
	Unlimited bool
	Used      int    // within the limit
	Lent      int    // granted to phones that may be offline, not yet used
	Over      int    // beyond the limit
	Free      int    // neither used nor lent
	Window    string // the time for which the number holds, in words
	WarnsFrom int    // the count from which the number warns, 0 never
	Near      bool   // it has begun to warn
	Open      int    // of what counts, what only may count, as long as more is not known
	OverWho   []catalogue.Row
}

// Version is one edition of an authority.
type Version struct {
	permits.Authority
	From, Until permits.Date
	Now         bool
}

// Listed is one person on an authority.
type Listed struct {
	Person string
	Role   string
	From   permits.Date
	To     permits.Date
	Now    bool // on the list today
	Year   int  // animals in this year
}

// PermitRow is one authority in the list.
type PermitRow struct {
	permits.Authority
	Name     string
	Balances []Balance
	Year     int
}

// PermitSheet is everything shown of one authority.
type PermitSheet struct {
	PermitRow
	Persons  []Listed
	Versions []Version
	Years    []int
	Due      []catalogue.Duty // what is open, due first on top
	Covers   []string         // what it covers, in words; nil is not limited
	Without  []string         // and what of that it does not
	Said     catalogue.Said
}

// Month is the count of one month of one county.
type Month struct {
	Month string // "2025-04", "" when the month is not known
	Count int
}

// County is one county's share of a species in a state.
type County struct {
	Name   string
	Count  int
	Months []Month
}

// State is one state's share of a species.
type State struct {
	Name     string
	Count    int
	Counties []County
}

// Species is the block of one species, nests and eggs apart from individuals.
type Species struct {
	Name     string // as people say it
	Taxon    string // scientific name
	Material string
	Count    int
	States   []State
}

// Entry is one animal in the year with what is special about it.
type Entry struct {
	Row    catalogue.Row
	Day    permits.Date
	Person string
	Kind   string // kept, transferred, destroyed, lost or pending
	Over   bool
	Bare   bool // not covered
	Why    string
	Quota  string
}

// Acted is one person who was on the list in the year or acted in it.
type Acted struct {
	Person   string
	Role     string
	Listed   bool // on the list in any month of the year
	Count    int
	Unlisted int      // of them in months in which the person was not on the list
	Idle     []string // months on the list without an animal, "2025-03"
}

// Check is one balance of the books.
type Check struct {
	What      string
	Left      int
	Right     int
	LeftName  string
	RightName string
}

// Even reports whether both sides agree.
func (c Check) Even() bool { return c.Left == c.Right }

// Transfer is one hand-over of an animal. To is catalogue.Here when it came to
// the institution; it is "" when the animal went to somebody whom nobody wrote
// down, and then the day is not known either.
type Transfer struct {
	Row      catalogue.Row
	Day      permits.Date
	From, To string
	Note     string
}

// LateDuty is a duty on an animal of the year that was done after it was due,
// or that was due before the day on which the year was drawn up and is open.
type LateDuty struct {
	Row    catalogue.Row
	Person string
	Code   string
	Text   string
	Due    string // civil date or local time
	Done   string // when it was done; "" is still open
}

// Stamp says as of which place in the log something was reckoned.
type Stamp struct {
	LSN  uint64
	AtMS int64 // receipt of that entry, Unix milliseconds
	Head string
}

// Year is the report of one authority for one calendar year. Species and Total
// are of what the authority covers; what is over a number, not covered or
// without a day stands apart, and All is everything together.
type Year struct {
	Authority   permits.Authority
	Name        string
	Year        int
	Due         permits.Date
	AsOf        Stamp
	Species     []Species
	Total       int
	Entries     []Entry // every animal of the year, once
	Over        []Entry
	Bare        []Entry
	Undated     []Entry // the day of pick-up is not known
	Observed    []Entry // recorded under the authority and never taken: in no sum
	All         int     // taken
	Kept        int     // received and in the house
	Transferred int     // given away, to an agency or laboratory or to another institution
	Agencies    int     // of these, given to an agency or laboratory
	Destroyed   int
	Lost        int
	Pending     int        // still out: taken and not yet received
	In          []Transfer // what came to the institution in the year, by day
	Out         []Transfer // what was given away in the year, by day
	Late        []LateDuty // duties on animals of the year, by when they were due
	HeldBefore  int        // of earlier years, as they stand now
	HeldAfter   int
	ToIdentify  int
	Persons     []Acted
	Nil         []string // persons on the list without activity in the whole year
	Balances    []Balance
	Checks      []Check
	Sample      bool
}

// InstitutionYear is the calendar year of the institution under all its papers
// together. Sums is made as the Year of one paper is, without a paper: every
// animal stands in it once, however many papers it counts under. What was
// taken under no paper at all stands in Sums.Bare. Sums has no balances; each
// paper's are in its own report.
type InstitutionYear struct {
	Sums   Year
	Papers []PaperYear // in the order of their ids
	Shared int         // animals that stand in the reports of two papers or more
}

// Of names the year after the institution.
func (i InstitutionYear) Of(institution string) InstitutionYear {
	i.Sums.Name = join(institution, "all papers")
	return i
}

// PaperYear is what one paper's own report of the year comes to.
type PaperYear struct {
	Authority permits.Authority
	Name      string
	Due       permits.Date
	Total     int // covered
	Over      int
	Bare      int // not covered by this paper
	Undated   int
	Observed  int
	All       int // taken
	Only      int // of these, in no other paper's report
}
