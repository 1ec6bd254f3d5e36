// Package record holds the words of the log: the kinds of record, the fields
// each kind has, how two hands' writings of one field are brought together,
// and the shape of every value.
//
// It promises that a name, once released, keeps its meaning and its way of
// merging for ever; a field that should merge otherwise is a new field. It
// holds no behaviour beyond saying whether a value is well formed, and it
// imports nothing of the project.
package record

// Kind says what a record is about.
type Kind string

// The kinds of record. The empty Kind is unknown.
const (
	Report    Kind = "report"    // what one person says about one find
	Animal    Kind = "animal"    // the individual that reports point at
	Part      Kind = "part"      // a skin, skeleton, wing, fluid or tissue of one animal
	Authority Kind = "authority" // a permit, regulation, land permission or duty
	Arrival   Kind = "arrival"   // a batch of bags handed over with its list
	Place     Kind = "place"     // a freezer, shelf or box
)

// Merge says how concurrent writings of one field are brought together.
type Merge uint8

// The ways to merge. Unknown is the way of a field that this release does not
// know: every value is kept, as MV keeps them, and none is flagged.
const (
	Unknown Merge = iota
	Once          // the first receipt wins; later ones are kept as corrections
	MV            // every value that nobody saw and replaced stays, for review
	LWW           // the newest wins on display; losers stay in the log
	ORSet         // add wins over a concurrent remove
	GSet          // grows only
	Log           // append-only facts
)

// Field is one field of one kind of record.
type Field struct {
	Kind     Kind
	Name     string // on the wire, for ever
	Merge    Merge
	Label    string // what a person reads
	Shape    Shape
	Personal bool // may hold data about a living person
}

// Shape names the form of a field's value, see values.go.
type Shape string

// The shapes of values.
const (
	Text      Shape = "text"      // a JSON string
	Number    Shape = "number"    // a JSON number
	Code      Shape = "code"      // a string out of a vocabulary, see words.go
	Link      Shape = "link"      // the id of another record
	WhenV     Shape = "when"      // When
	FixV      Shape = "fix"       // Fix
	PlaceV    Shape = "place"     // Georeference
	TaxonV    Shape = "taxon"     // Determination
	CauseV    Shape = "cause"     // Cause
	StateV    Shape = "condition" // Condition
	LandV     Shape = "land"      // Land
	SignsV    Shape = "signs"     // Signs
	PersonV   Shape = "person"    // Person
	PhotoV    Shape = "photo"     // Photo
	FreezeV   Shape = "freeze"    // Freeze
	VerdictV  Shape = "verdict"   // the verdict of permits, as JSON
	BagV      Shape = "bag"       // Bag
	CustodyV  Shape = "custody"   // Custody
	RemarkV   Shape = "remark"    // Remark
	DutyV     Shape = "duty"      // DutyDone
	WithdrawV Shape = "withdrawn" // Withdrawn
	DocV      Shape = "document"  // a JSON object described by its own package
)

type place struct {
	kind Kind
	name string
}

var index = func() map[place]Field {
	m := make(map[place]Field, len(Fields))
	for _, f := range Fields {
		m[place{f.Kind, f.Name}] = f
	}
	return m
}()

// FieldOf returns the field of that name on records of that kind, and whether
// this release knows it.
func FieldOf(kind Kind, name string) (Field, bool) {
	f, ok := index[place{kind, name}]
	return f, ok
}

// MergeOf returns how the field merges; Unknown if this release does not know
// the field.
func MergeOf(kind Kind, name string) Merge {
	return index[place{kind, name}].Merge
}

// Act returns the word an operation uses to write a field that merges so.
func (m Merge) Act() string {
	switch m {
	case ORSet, GSet:
		return "add"
	case Log:
		return "evt"
	}
	return "set"
}

// String returns the name of the way to merge.
func (m Merge) String() string {
	return [...]string{"unknown", "once", "mv", "lww", "orset", "gset", "log"}[m]
}
