package catalogue

import (
	"encoding/json"

	"wayfall/sync/record"
)

// Hand is who does something, and what the clock of the server said. The
// clock comes in from outside: this package never looks at one.
type Hand struct {
	Person string
	AtMS   int64  // Unix milliseconds
	Local  string // the same moment as civil time at the institution, "2006-01-02T15:04"
	Zone   string // its offset, "-04:00"
}

// Typed is what somebody entered for one bag.
type Typed struct {
	Tag      string
	Written  string // what is written on a bag without a readable tag
	Taxon    string
	Untagged bool // the person says that there is no tag
}

// Acceptance takes one animal of an arrival into the museum.
type Acceptance struct {
	Animal  string
	Tag     string
	Freezer string
}

// Settlement puts one value in the place of those that were seen.
type Settlement struct {
	Field string
	Value json.RawMessage
	Saw   []string
}

// NewPart is one part to add to an animal. A zero Made is now.
type NewPart struct {
	Type         string
	Made         record.When
	Barcode      string
	Preservative string
	Stored       string
}

// Correctable returns the fields of an animal that a person may correct by
// typing: those whose value is plain text.
func Correctable() []record.Field {
	var out []record.Field
	for _, f := range record.Fields {
		if f.Kind == record.Animal && f.Shape == record.Text && (f.Merge == record.MV || f.Merge == record.LWW) && f.Name != "catalogue_no" {
			out = append(out, f)
		}
	}
	return out
}

// Opening is what is known of a batch when it is entered. A zero At is now.
type Opening struct {
	From string
	At   record.When
}
