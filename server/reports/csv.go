package reports

import (
	"bytes"
	"encoding/csv"
	"strconv"
)

// CSV returns the year as a table after RFC 4180, made from the same sums as
// the page: one row for each species, state, county and month, then the
// subtotals, each named in its first column.
func (y Year) CSV() []byte {
	rows := [][]string{{"row", "species", "scientific name", "material", "state", "county", "month", "number", "note"}}
	rows = append(rows, y.sums()...)
	for _, part := range []struct {
		name    string
		entries []Entry
	}{{"over", y.Over}, {"not covered", y.Bare}, {"no day", y.Undated}, {"not taken", y.Observed}} {
		for _, e := range part.entries {
			rows = append(rows, []string{part.name, e.Row.Name, e.Row.Taxon, "", e.Row.State, e.Row.County, month(e.Day), "1", join(e.Row.Tag, e.Why)})
		}
	}
	for _, p := range y.Persons {
		for _, m := range p.Idle {
			rows = append(rows, []string{"no activity", "", "", "", "", "", m, "0", p.Person})
		}
	}
	for _, sum := range []struct {
		name string
		n    int
	}{{"kept", y.Kept}, {"transferred", y.Transferred}, {"destroyed", y.Destroyed}, {"lost", y.Lost}, {"pending", y.Pending}} {
		rows = append(rows, []string{sum.name, "", "", "", "", "", "", strconv.Itoa(sum.n), ""})
	}
	rows = append(rows, []string{"as of", "", "", "", "", "", "", strconv.FormatUint(y.AsOf.LSN, 10), y.AsOf.Head})
	for _, r := range rows {
		for i := range r {
			r[i] = plain(r[i])
		}
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	// A bytes.Buffer never fails to be written to.
	_ = w.WriteAll(rows)
	return out.Bytes()
}

// sums are the lines with their subtotals and the total.
func (y Year) sums() [][]string {
	var rows [][]string
	for _, s := range y.Species {
		for _, st := range s.States {
			for _, c := range st.Counties {
				for _, m := range c.Months {
					rows = append(rows, []string{"line", s.Name, s.Taxon, s.Material, st.Name, c.Name, m.Month, strconv.Itoa(m.Count), ""})
				}
			}
			rows = append(rows, []string{"subtotal", s.Name, s.Taxon, s.Material, st.Name, "", "", strconv.Itoa(st.Count), ""})
		}
	}
	note := ""
	if y.All == 0 {
		note = "no activity"
	}
	return append(rows, []string{"total", "", "", "", "", "", "", strconv.Itoa(y.Total), note})
}

// plain keeps a spreadsheet from taking somebody's text for a formula.
func plain(cell string) string {
	if cell == "" {
		return cell
	}
	switch cell[0] {
	case '=', '+', '-', '@', '\t', '\r':
		return "'" + cell
	}
	return cell
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + ": " + b
}
