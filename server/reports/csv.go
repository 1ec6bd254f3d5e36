package reports

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"
)

// CSV returns the year as a table after RFC 4180, made from the same sums as
// the page: one row for each species, state, county and month, then the
// subtotals, each named in its first column.
func (y Year) CSV() []byte { return written(y.rows()) }

// CSV returns the year as that of a paper, and what each paper's own report
// comes to.
func (i InstitutionYear) CSV() []byte {
	rows := i.Sums.rows()
	for _, p := range i.Papers {
		for _, sum := range []struct {
			name string
			n    int
		}{{"covered", p.Total}, {"over", p.Over}, {"not covered", p.Bare}, {"no day", p.Undated}, {"all", p.All}, {"in no other report", p.Only}} {
			rows = append(rows, []string{"paper: " + sum.name, "", "", "", "", "", "", strconv.Itoa(sum.n), join(p.Authority.ID, p.Name)})
		}
	}
	rows = append(rows, []string{"in several reports", "", "", "", "", "", "", strconv.Itoa(i.Shared), ""})
	return written(rows)
}

func (y Year) rows() [][]string {
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
	}{{"kept", y.Kept}, {"transferred", y.Transferred}, {"to agencies", y.Agencies}, {"destroyed", y.Destroyed}, {"lost", y.Lost}, {"pending", y.Pending},
		{"held before", y.HeldBefore}, {"held after", y.HeldAfter}} {
		rows = append(rows, []string{sum.name, "", "", "", "", "", "", strconv.Itoa(sum.n), ""})
	}
	rows = append(rows, y.moves()...)
	return append(rows, []string{"as of", "", "", "", "", "", "", strconv.FormatUint(y.AsOf.LSN, 10), y.AsOf.Head})
}

// moves are the hand-overs and the late duties.
func (y Year) moves() [][]string {
	var rows [][]string
	for _, part := range []struct {
		name string
		all  []Transfer
	}{{"came in", y.In}, {"given away", y.Out}} {
		for _, t := range part.all {
			rows = append(rows, []string{part.name, t.Row.Name, t.Row.Taxon, "", t.Row.State, t.Row.County, month(t.Day), "1",
				strings.Join([]string{t.Row.Tag, t.Day.String(), "from " + t.From, "to " + t.To, t.Note}, "; ")})
		}
	}
	for _, d := range y.Late {
		rows = append(rows, []string{"late duty", d.Row.Name, d.Row.Taxon, "", d.Row.State, d.Row.County, "", "1",
			strings.Join([]string{d.Row.Tag, d.Person, d.Code, d.Text, "due " + d.Due, "done " + d.Done}, "; ")})
	}
	return rows
}

func written(rows [][]string) []byte {
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
