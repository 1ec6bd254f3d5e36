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
	Used      int // within the limit
	Lent      int // granted to phones that may be offline, not yet used
	Over      int // beyond the limit
	Free      int // neither used nor lent
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
	Due      []catalogue.Duty
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
	Kind   string // kept, transferred, destroyed, pending, agency, left
	Over   bool
	Bare   bool // not covered
	Why    string
	Quota  string
}

// Acted is one person and how many animals they took under the authority.
type Acted struct {
	Person string
	Count  int
	Listed bool
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

// Stamp says as of which place in the log something was reckoned.
type Stamp struct {
	LSN  uint64
	AtMS int64 // receipt of that entry, Unix milliseconds
	Head string
}

// Year is the report of one authority for one calendar year.
type Year struct {
	Authority   permits.Authority
	Name        string
	Year        int
	Due         permits.Date
	AsOf        Stamp
	Species     []Species
	Entries     []Entry
	Over        []Entry
	Bare        []Entry
	Total       int
	Kept        int
	Transferred int
	Destroyed   int
	Pending     int
	Acted       []Acted
	Nil         []string // listed persons without activity
	Balances    []Balance
	Checks      []Check
	Sample      bool
}
