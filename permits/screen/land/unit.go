package land

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"wayfall/geo"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// Answers are what the manager of a unit says as long as nothing else is in
// writing.
const (
	Deny  = "deny"  // nothing is taken without the unit's own permission
	Ask   = "ask"   // somebody has to be asked first
	Allow = "allow" // the general rules are enough
)

// classes are the words for who manages a unit, those of a report's land, with
// state parks apart.
var classes = []string{"national_park", "refuge", "tribal", "state_park", "state", "military", "road_authority",
	"utility", "municipal", "private", "other"}

// Unit is one unit of ground.
type Unit struct {
	ID      string            `json:"id"`
	Name    string            `json:"name"`
	Class   string            `json:"class"`
	In      string            `json:"in"`      // the state or country, ISO 3166
	Default string            `json:"default"` // deny, ask or allow
	From    permits.Date      `json:"from"`    // the first day of this drawing; unknown: always
	To      permits.Date      `json:"to"`      // the last; unknown: still
	Contact string            `json:"contact"`
	Source  string            `json:"source"` // where the drawing is from, and how good it is
	Off     geo.Metres        `json:"off_m"`  // how far the drawn line may be from the one on the ground
	Days    *permits.Calendar `json:"calendar"`
	// Inside is any point inside, with its numbers by name: it tells a drawing
	// whose numbers are exchanged.
	Inside Named  `json:"inside"`
	Shape  Drawn  `json:"shape"`
	Notice string `json:"notice"`

	polygons []polygon
}

// Named is a point whose numbers cannot be mistaken for each other.
type Named struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

// Drawn is a shape as RFC 7946 writes it: a Polygon or a MultiPolygon of
// closed rings of longitude and latitude, the outer ring first.
type Drawn struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// stands tells whether the drawing may hold on some day of the stretch; one
// without days holds for every drawing.
func (u *Unit) stands(w permits.When) bool {
	if !w.Known() {
		return true
	}
	return u.From <= w.To.Date && (!u.To.Known() || w.From.Date <= u.To)
}

// Map is a set of units that may be asked by many at once. A nil Map has none.
type Map struct {
	Sample bool
	Notice string
	units  []*Unit
	title  string
	digest string

	keepers []screen.Keeper
}

// Edition says which drawing this is, by the digest of its file; nil if there
// is none.
func (m *Map) Edition() *screen.Ground {
	if m == nil {
		return nil
	}
	ref := permits.PackRef{ID: "land", Version: m.title, Digest: m.digest}
	return &screen.Ground{PackRef: ref, Sample: m.Sample, Notice: m.Notice, Keepers: m.keepers}
}

// Units returns the units in the order of the file.
func (m *Map) Units() []*Unit {
	if m == nil {
		return nil
	}
	return m.units
}

type file struct {
	Title  string  `json:"title"`
	Sample bool    `json:"sample"`
	Notice string  `json:"notice"`
	Units  []*Unit `json:"units"`
}

// Fault is one thing that is wrong with a file of units.
type Fault struct{ File, Unit, Path, What string }

// String writes the fault on one line.
func (f Fault) String() string { return f.File + ": " + f.Unit + " " + f.Path + ": " + f.What }

// Load reads a file of units. If anything is wrong it returns no map and every
// fault with the unit and a sentence: nothing is half loaded.
func Load(name string, data []byte) (*Map, []Fault) {
	l := &loader{file: name}
	var f file
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		l.complain(nil, "$", "cannot be read: %v", err)
		return nil, l.faults
	}
	if f.Sample && f.Notice == "" {
		l.complain(nil, "notice", "a sample must say that it is one")
	}
	if len(f.Units) == 0 {
		l.complain(nil, "units", "the file has no units")
	}
	var ids []string
	for i, u := range f.Units {
		if u == nil {
			l.complain(nil, fmt.Sprintf("units[%d]", i), "is null where a unit is wanted")
			continue
		}
		if slices.Contains(ids, u.ID) {
			l.complain(u, "id", "two units have this id")
		}
		ids = append(ids, u.ID)
		l.unit(u)
	}
	if len(l.faults) > 0 {
		return nil, l.faults
	}
	sum := sha256.Sum256(data)
	m := &Map{Sample: f.Sample, Notice: f.Notice, units: f.Units, title: f.Title, digest: hex.EncodeToString(sum[:])}
	for _, u := range f.Units {
		m.keepers = append(m.keepers, screen.Keeper{Unit: u.ID, Name: u.Name, Contact: u.Contact, Days: u.Days, From: u.From, To: u.To})
	}
	return m, nil
}

type loader struct {
	file   string
	faults []Fault
}

func (l *loader) complain(u *Unit, path, format string, args ...any) {
	id := ""
	if u != nil {
		id = u.ID
	}
	l.faults = append(l.faults, Fault{l.file, id, path, fmt.Sprintf(format, args...)})
}

func (l *loader) unit(u *Unit) {
	for _, need := range [...]struct{ path, value string }{{"id", u.ID}, {"name", u.Name}, {"in", u.In}, {"source", u.Source}} {
		if need.value == "" {
			l.complain(u, need.path, "is missing")
		}
	}
	if u.ID != "" && !strings.HasPrefix(u.ID, u.In+" ") {
		l.complain(u, "id", "an id is the code of the state and words, as papers name the ground: %s and its name", u.In)
	}
	if !slices.Contains(classes, u.Class) {
		l.complain(u, "class", "%q is not a kind of manager", u.Class)
	}
	if u.Default != Deny && u.Default != Ask && u.Default != Allow {
		l.complain(u, "default", "say whether the unit denies, asks or allows: %q is none of them", u.Default)
	}
	if u.From.Known() && u.To.Known() && u.To < u.From {
		l.complain(u, "to", "it ends before it begins")
	}
	if u.Off < 0 || u.Off > 10*geo.Kilometre {
		l.complain(u, "off_m", "a line is off by 0 to 10,000 metres; draw it better or leave the unit out")
	}
	if u.Days != nil {
		for _, w := range u.Days.Faults() {
			l.complain(u, "calendar."+w.Path, "%s", w.What)
		}
	}
	l.shape(u)
}
