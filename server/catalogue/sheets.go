package catalogue

import (
	"encoding/json"

	"wayfall/permits"
	"wayfall/sync/record"
)

// Said is one value that somebody wrote, with who, when and from where.
type Said struct {
	Dot    string          // names the act in the log; handed back when settling
	Value  json.RawMessage // as on the wire
	Text   string          // as a person reads it
	Who    string          // person id, "server" for the server itself
	Device string
	AtMS   int64  // wall clock of the device, Unix milliseconds
	Zone   string // offset of that clock, "-04:00"
	LSN    uint64 // place in the institution's log
}

// Fact is one field of one record with every value that stands.
type Fact struct {
	Field   record.Field
	Said    []Said
	Differs bool // more than one value stands and a person should decide
	dots    []string
}

// Shown is the value to show first, or the empty Said.
func (f Fact) Shown() Said {
	if len(f.Said) == 0 {
		return Said{}
	}
	return f.Said[0]
}

// Saw is the dots of all values that stand, for a settling act.
func (f Fact) Saw() []string {
	if len(f.dots) > 0 {
		return f.dots
	}
	out := make([]string, 0, len(f.Said))
	for _, s := range f.Said {
		out = append(out, s.Dot)
	}
	return out
}

// Row is one animal in a list: its canonical record.
type Row struct {
	ID          string
	Tag         string
	Name        string // what it is thought to be, in words
	Taxon       string // name in the checklist, "" when unidentified
	Disposition string
	Freezer     string
	IntakeNo    string
	Preparation string
	Catalogue   string
	Arrival     string
	Received    string // when it came to the institution, local time
	Hazards     []string
	Hold        string
	Parts       []string // kinds of part
	Differs     []string // labels of the fields on which people differ
	Found       record.When
	Report      string // the first report that points at it
	County      string
	State       string
	Withdrawn   bool
	Sure        bool // somebody is sure of what it is
}

// Find is one report in the list of finds.
type Find struct {
	ID        string
	FieldNo   string
	Found     record.When
	Name      string
	Taxon     string
	Place     string
	County    string
	State     string
	Finder    string
	Deed      string
	Outcome   string // of the newest verdict: take, ask, stop, breach, note or ""
	Animals   []Row
	Joined    bool // shares an animal with another report
	Differs   bool
	Withdrawn bool
	LSN       uint64
}

// Filter narrows the list of finds. Empty members do not narrow.
type Filter struct {
	Text    string
	Taxon   string
	County  string // "State: County" as Find shows it
	State   string // state of the animal, a word of Dispositions
	Outcome string
	From    int // first row
	Limit   int // at most so many rows; 0 is 50
}

// Finds is one page of the list with what it can be narrowed by.
type Finds struct {
	Rows     []Find
	Matching int
	Reports  int
	Animals  int
	From     int
	Taxa     []string
	Counties []string
	LSN      uint64
}

// Finding is one rule's answer inside a verdict.
type Finding struct {
	Rule    string
	Outcome string
	Because string
	Cites   string
}

// Verdict is one answer to a report.
type Verdict struct {
	Outcome   string
	Headline  string
	Gist      string // by which paper, or for which reason; a clause
	Findings  []Finding
	Authority string
	By        Said
	Sample    bool   // reckoned with a sample rule pack
	Inputs    string // digest of the facts that it answers
}

// Duty is something that has to be done, and whether it was.
type Duty struct {
	Code     string
	Text     string
	Cites    string
	Due      string // civil date or local time, "2006-01-02" or "2006-01-02T15:04"; "" when not dated
	Word     string // the word of a law that gives no number: immediately, promptly
	Own      bool   // Due is the institution's own time for that word
	Severity permits.Severity
	Done     bool
	Void     string // why there is nothing to do, "" when there is
	DoneAt   string
	Evidence string
	Report   string
	Animal   Row
	Who      string
	Waived   bool // by a document; Void then says which
	Paper    bool // a paper asks for it, whatever is taken under it; Report then names the paper
	History  []DutyNote
}

// DutyNote is one note on a duty: that it was done, or waived. All are kept.
type DutyNote struct {
	At, Who, Text string
	Waives        bool
}

// Moment is one point on the line of what happened to an animal.
type Moment struct {
	When  string // sortable local time, "2006-01-02T15:04" or a prefix of it
	Head  string
	Text  string
	Shape string // done, ask, stop or note
	Who   string
	judge bool // what the rules answered
}

// Number is one of the numbers an animal bears, with others that bear the same.
type Number struct {
	Field    string
	Label    string
	Value    string
	Conflict []Row
}

// PartRow is one part of an animal.
type PartRow struct {
	ID        string
	Type      string
	Made      record.When
	By        string
	Barcodes  []string
	Kept      string
	Facts     []Fact
	Withdrawn bool
}

// AnimalSheet is everything known of one animal.
type AnimalSheet struct {
	Row
	Tags     []string
	Facts    []Fact
	Numbers  []Number
	Reports  []Find
	SameAs   string   // set when this record was joined to another
	Others   []Row    // records joined into this one
	Theirs   [][]Fact // what was said on each of Others
	Joins    []Said   // the live joins of this record, for undoing
	Parts    []PartRow
	Photos   []record.Photo
	Life     []Moment
	Duties   []Duty
	Place    record.Georeference
	Verdicts []Verdict
	Holding  Holding
	Gaps     []string // where the chain of hand-overs breaks, a sentence each
}

// FindSheet is everything known of one report.
type FindSheet struct {
	Find
	Facts     []Fact
	Verdicts  []Verdict
	Decisions []Decision // newest first
	Georef    record.Georeference
	Photos    []record.Photo
	Duties    []Duty
	Life      []Moment
}

// ArrivalRow is one arrival in the list.
type ArrivalRow struct {
	ID       string
	From     string
	At       record.When
	Receiver string
	Lines    int
	Bags     int
	Accepted int
	Closed   bool
	LSN      uint64
}

// ArrivalSheet is one arrival with its list and its table laid side by side.
type ArrivalSheet struct {
	ArrivalRow
	List     []Line
	Table    []Bag
	Tally    Tally
	Remarks  []Said
	NextNo   string          // the intake number the next accepted animal gets
	Received map[string]bool // animals already accepted with this arrival
}

// BenchSheet is what waits in the freezer and what is in preparation.
type BenchSheet struct {
	Waiting   []Row // received, no preparation number
	Started   []Row // with a preparation number, not yet in the catalogue
	Conflicts []Number
}

// Drawer is the list of catalogued animals.
type Drawer struct {
	Rows     []Row
	Ready    []Row // with parts, without a catalogue number
	Matching int
	All      int
	Next     string
}
