package printed

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

//go:embed columns.json
var shipped []byte

// Column is one column of a set: which, and what stands above it.
type Column struct {
	Column  string `json:"column"`
	Heading string `json:"heading"`
}

// Set is the columns that a form asks for, in their order. Per is what a line
// is: "line" for the count of one species, state, county and month, "animal"
// for one animal.
type Set struct {
	ID      string   `json:"id"`
	Name    string   `json:"name"`
	Per     string   `json:"per"`
	Columns []Column `json:"columns"`
}

// Sets are the sets that can be asked for.
type Sets []Set

// The two things that a line can be.
const (
	perLine   = "line"
	perAnimal = "animal"
)

// kind is how a column is typed in a workbook.
type kind uint8

const (
	word kind = iota
	count
	dateKind
	monthKind
)

// known is one column that can be asked for, and how it is read; a reader that
// is nil is of no use for lines of that sort.
type known struct {
	name   string
	kind   kind
	line   func(l tally) cell
	animal func(e reports.Entry) cell
}

// tally is one line of the sums.
type tally struct {
	species            reports.Species
	state, county, mon string
	n                  int
}

// cell is one value: a word, a number, a day or a month "2025-04".
type cell struct {
	text string
	n    int
	day  permits.Date
}

var columns = []known{
	{"species", word, func(l tally) cell { return cell{text: l.species.Name} }, func(e reports.Entry) cell { return cell{text: or(e.Row.Name, "Not identified")} }},
	{"scientific_name", word, func(l tally) cell { return cell{text: l.species.Taxon} }, func(e reports.Entry) cell { return cell{text: e.Row.Taxon} }},
	{"material", word, func(l tally) cell { return cell{text: catalogue.Label(record.Report, "material", l.species.Material)} }, nil},
	{"state", word, func(l tally) cell { return cell{text: l.state} }, func(e reports.Entry) cell { return cell{text: or(e.Row.State, "not known")} }},
	{"county", word, func(l tally) cell { return cell{text: l.county} }, func(e reports.Entry) cell { return cell{text: or(e.Row.County, "not known")} }},
	{"month", monthKind, func(l tally) cell { return cell{text: l.mon} }, func(e reports.Entry) cell { return cell{text: monthOf(e.Day)} }},
	{"number", count, func(l tally) cell { return cell{n: l.n} }, func(reports.Entry) cell { return cell{n: 1} }},
	{"date", dateKind, nil, func(e reports.Entry) cell { return cell{day: e.Day} }},
	{"person", word, nil, func(e reports.Entry) cell { return cell{text: e.Person} }},
	{"tag", word, nil, func(e reports.Entry) cell { return cell{text: e.Row.Tag} }},
	{"intake_no", word, nil, func(e reports.Entry) cell { return cell{text: e.Row.IntakeNo} }},
	{"catalogue_no", word, nil, func(e reports.Entry) cell { return cell{text: e.Row.Catalogue} }},
	{"disposition", word, nil, func(e reports.Entry) cell {
		return cell{text: catalogue.Label(record.Animal, "disposition", e.Row.Disposition)}
	}},
}

func monthOf(d permits.Date) string {
	if !d.Known() {
		return ""
	}
	return d.String()[:7]
}

// Shipped are the sets that come with the program: samples.
func Shipped() Sets {
	all, err := ReadSets(shipped)
	if err != nil {
		panic("the built-in column sets cannot be read: " + err.Error())
	}
	return all
}

// ReadSets reads sets of columns. It refuses what it does not know and lists
// every such place.
func ReadSets(data []byte) (Sets, error) {
	var file struct {
		V      int  `json:"v"`
		Sample bool `json:"sample"`
		Sets   Sets `json:"sets"`
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return nil, fault.New(fault.Invalid, "the column sets cannot be read: %v", err)
	}
	if file.V != 1 {
		return nil, fault.New(fault.Invalid, "the column sets are of edition %d; this release reads edition 1", file.V)
	}
	if err := file.Sets.check(); err != nil {
		return nil, err
	}
	return file.Sets, nil
}

// check lists what is wrong with any of the sets.
func (all Sets) check() error {
	type place struct{ at, detail string }
	var said []string
	var places []place
	seen := map[string]bool{}
	for i, s := range all {
		at := fmt.Sprintf("/sets/%d", i)
		if s.ID == "" || seen[s.ID] || strings.ContainsAny(s.ID, ", ") {
			said = append(said, fmt.Sprintf("the column set %q has no name of its own", s.ID))
			places = append(places, place{at + "/id", "not a name of its own"})
		}
		seen[s.ID] = true
		err := s.check("set " + s.ID)
		if err == nil {
			continue
		}
		said = append(said, fault.Sentence(err))
		inside := fault.Pointers(err)
		for _, p := range inside {
			places = append(places, place{at + p.Pointer, p.Detail})
		}
		if len(inside) == 0 {
			places = append(places, place{at, "cannot be used"})
		}
	}
	if len(said) == 0 {
		return nil
	}
	err := fault.New(fault.Invalid, "%s", strings.Join(said, "; "))
	for _, p := range places {
		err = err.At(p.at, p.detail)
	}
	return err
}

// Names are the columns that lines of that sort have.
func Names(per string) []string {
	var out []string
	for _, k := range columns {
		if per == perLine && k.line != nil || per == perAnimal && k.animal != nil {
			out = append(out, k.name)
		}
	}
	return out
}

// check refuses a set with a list of the columns that its lines do not have.
func (s Set) check(where string) error {
	can := Names(s.Per)
	if can == nil {
		return fault.New(fault.Invalid, "%s: a line is a %q or an %q, not a %q", where, perLine, perAnimal, s.Per)
	}
	if len(s.Columns) == 0 {
		return fault.New(fault.Invalid, "%s names no column; there are %s", where, strings.Join(can, ", "))
	}
	var bad []string
	for _, c := range s.Columns {
		if !slices.Contains(can, c.Column) {
			bad = append(bad, c.Column)
		}
	}
	if len(bad) == 0 {
		return nil
	}
	err := fault.New(fault.Invalid, "%s asks for columns that are not known: %s; there are %s", where, strings.Join(bad, ", "), strings.Join(can, ", "))
	for _, b := range bad {
		err = err.At("/columns/"+strings.NewReplacer("~", "~0", "/", "~1").Replace(b), "not a column of a "+s.Per)
	}
	return err
}

// Ask returns the set of that name, or a set of the columns named with commas
// between them. "" is the first set.
func (all Sets) Ask(text string) (Set, error) {
	var ids []string
	for _, s := range all {
		if s.ID == text || text == "" {
			return s, nil
		}
		ids = append(ids, s.ID)
	}
	out := Set{ID: "asked", Per: perLine}
	lines := Names(perLine)
	for name := range strings.SplitSeq(text, ",") {
		name = strings.TrimSpace(name)
		out.Columns = append(out.Columns, Column{name, heading(name)})
		if !slices.Contains(lines, name) && slices.Contains(Names(perAnimal), name) {
			out.Per = perAnimal
		}
	}
	return out, out.check("the question (sets are " + strings.Join(ids, ", ") + ")")
}

func heading(name string) string {
	plain := strings.ReplaceAll(name, "_", " ")
	if plain == "" {
		return ""
	}
	return strings.ToUpper(plain[:1]) + plain[1:]
}

// rowsOf are the lines of the year in the columns of the set: what the
// authority covers, so that the numbers sum up to the year's total.
func (s Set) rowsOf(y reports.Year) (kinds []kind, rows [][]cell) {
	var read []known
	for _, c := range s.Columns {
		at := slices.IndexFunc(columns, func(k known) bool { return k.name == c.Column })
		read, kinds = append(read, columns[at]), append(kinds, columns[at].kind)
	}
	if s.Per == perAnimal {
		for _, e := range y.Entries {
			if section(e) == "line" {
				var r []cell
				for _, k := range read {
					r = append(r, k.animal(e))
				}
				rows = append(rows, r)
			}
		}
		return kinds, rows
	}
	for _, l := range talliesOf(y) {
		var r []cell
		for _, k := range read {
			r = append(r, k.line(l))
		}
		rows = append(rows, r)
	}
	return kinds, rows
}

func talliesOf(y reports.Year) []tally {
	var out []tally
	for _, sp := range y.Species {
		for _, st := range sp.States {
			for _, c := range st.Counties {
				for _, m := range c.Months {
					out = append(out, tally{sp, st.Name, c.Name, m.Month, m.Count})
				}
			}
		}
	}
	return out
}

// section is where an animal stands in the report.
func section(e reports.Entry) string {
	switch {
	case e.Bare:
		return "not covered"
	case e.Over:
		return "over"
	case !e.Day.Known():
		return "day not known"
	}
	return "line"
}
