package web

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/reports"
)

// takenBook is a book of made-up animals under one paper.
type takenBook struct{ takes []catalogue.Take }

func (b takenBook) Takes(context.Context, string) ([]catalogue.Take, catalogue.Place, error) {
	return b.takes, catalogue.Place{LSN: 77, AtMS: sampleDay.UnixMilli(), Head: "head"}, nil
}

func (takenBook) Papers(context.Context) ([]catalogue.Paper, error) {
	return []catalogue.Paper{{ID: "p", Document: json.RawMessage(`{"id":"STATE","version":1,"name":"State salvage permit","kind":"state_salvage","basis":"b","jurisdiction":"US-MI","holder":"museum",
"valid_from":"2025-01-01","status":"active","area":["US-MI"],"taxa_include":["Aves"],"activities":["salvage"],"report_due":"01-31","persons":[{"id":"p-ana"},{"id":"p-quist","to":"2025-09-30"},{"id":"p-cal"}],
"quotas":[{"id":"LOON","per":"taxon","taxa":["Gavia immer"],"limit":5,"window":"calendar_year"}]}`)}}, nil
}

func (takenBook) Duties(context.Context) ([]catalogue.Duty, error) { return nil, nil }

// wildYear is a year in which everything happens that a report tells apart.
func wildYear(r *rand.Rand) takenBook {
	kinds := [][2]string{{"Common Loon", "Gavia immer"}, {"Herring Gull", "Larus argentatus"}, {"", ""}}
	var b takenBook
	for i := range 20 + r.IntN(60) {
		kind := kinds[r.IntN(len(kinds))]
		t := catalogue.Take{
			Row: catalogue.Row{ID: fmt.Sprintf("%04d", i), Name: kind[0], Taxon: kind[1], State: []string{"Michigan", "Indiana"}[r.IntN(2)], County: []string{"Mason", "Oceana", ""}[r.IntN(3)],
				Disposition: []string{"received", "private_freezer", "transferred", "destroyed", "never_arrived", "agency"}[r.IntN(6)]},
			Day: permits.NewDate(2025, 1+r.IntN(12), 1+r.IntN(28)), Person: []string{"p-ana", "p-quist"}[r.IntN(2)], Material: []string{"carcass", "carcass", "feather"}[r.IntN(3)],
			Deed: "taken", Named: "STATE", Relies: []string{"STATE"}, Judged: true, Outcome: permits.AllowWithObligations,
		}
		if r.IntN(3) == 0 {
			t.Handed = []catalogue.Handing{{Day: t.Day, From: "p-ana", To: catalogue.Here, Note: "in a box"}, {Day: t.Day, From: catalogue.Here, To: "p-quist"}}
		}
		if r.IntN(4) == 0 {
			t.Dated = []catalogue.Duty{{Code: "HAND_OVER", Text: "Hand it over", Who: "p-ana", Due: "2025-01-02", Done: true, DoneAt: "2025-01-05"}}
		}
		switch r.IntN(8) {
		case 0:
			t.Day = 0
		case 1:
			t.Relies, t.Near, t.Named, t.Outcome, t.Why = nil, []string{"STATE"}, "", permits.BreachToResolve, "Not listed."
		case 2:
			t.Deed = "left"
		}
		b.takes = append(b.takes, t)
	}
	return b
}

// tableRows are the texts of the cells of every row of the tables of a page.
func tableRows(t *testing.T, page string) [][]string {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	var text func(n *html.Node) string
	text = func(n *html.Node) string {
		if n.Type == html.TextNode {
			return n.Data
		}
		var s string
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			s += text(c)
		}
		return s
	}
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && n.Data == "tr" {
			var row []string
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				if c.Type == html.ElementNode {
					row = append(row, strings.TrimSpace(text(c)))
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}

func number(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatalf("%q is not a number", s)
	}
	return n
}

func TestThePageOfAYearAndItsTableShowTheSameNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	for round := range 30 {
		m := newMuseum(t)
		m.desk.Office = &reports.Office{Book: wildYear(r)}
		b := m.browser("p-farrow")
		_, page := b.get("/permits/STATE/years/2025")
		_, table := b.get("/permits/STATE/years/2025.csv")
		cells, err := csv.NewReader(strings.NewReader(table)).ReadAll()
		m.must(err)
		want := map[string]int{}
		for _, row := range cells[1:] {
			switch row[0] {
			case "line":
				month := catalogue.DayText(row[6])
				want[strings.Join([]string{"line", row[1], row[3], row[4], row[5], month}, "/")] += number(t, row[7])
			case "subtotal":
				want[strings.Join([]string{"subtotal", row[1], row[3], row[4]}, "/")] += number(t, row[7])
			case "over", "not covered", "no day", "not taken":
				want[row[0]]++
			case "came in", "given away", "late duty":
				want[row[0]]++
			case "total", "kept", "to agencies", "transferred", "destroyed", "lost", "pending":
				want[row[0]] = number(t, row[7])
			}
		}
		got := readYear(t, page)
		if got["total"] == 0 || len(got) < 10 {
			t.Fatalf("round %d: the page could not be read: %v", round, got)
		}
		for k, n := range want {
			if got[k] != n {
				t.Errorf("round %d, %s: the page says %d, the table %d", round, k, got[k], n)
			}
		}
		for k, n := range got {
			if want[k] != n {
				t.Errorf("round %d, %s: the page says %d, the table %d", round, k, n, want[k])
			}
		}
	}
}

// readName takes a name and what was found of it apart.
func readName(text string) string {
	name, feathers := strings.CutSuffix(text, " (feathers)")
	if feathers {
		return name + "/feather"
	}
	return name + "/carcass"
}

// readYear reads the numbers of a report off its page, by the names that the
// table has for them.
func readYear(t *testing.T, page string) map[string]int {
	t.Helper()
	got := map[string]int{}
	section := ""
	for _, row := range tableRows(t, page) {
		switch {
		case len(row) == 5 && row[0] == "Species":
			section = "sums"
		case len(row) == 5 && row[0] == "Tag":
			section = "entries"
		case section == "sums" && len(row) == 5:
			got[strings.Join([]string{"line", readName(row[0]), row[1], row[2], row[3]}, "/")] += number(t, row[4])
		case section == "sums" && len(row) == 3 && strings.HasSuffix(row[1], ", together"):
			name := row[0]
			for _, sci := range []string{" Gavia immer", " Larus argentatus"} {
				name = strings.TrimSuffix(name, sci)
			}
			got["subtotal/"+readName(strings.TrimSpace(name))+"/"+strings.TrimSuffix(row[1], ", together")] += number(t, row[2])
		case len(row) == 2 && row[0] == "Together":
			got["total"] = number(t, row[1])
		case len(row) == 2:
			for begins, name := range map[string]string{"Kept": "kept", "Given": "transferred", "Destroyed": "destroyed", "Lost": "lost", "Still out": "pending", "Of these": "to agencies"} {
				if strings.HasPrefix(row[0], begins) {
					got[name] = number(t, row[1])
				}
			}
		}
	}
	for heading, name := range map[string]string{"Over the number (": "over", "Not covered (": "not covered", "Day not known (": "no day", "Recorded and not taken (": "not taken", "Came to the institution (": "came in", "Given away (": "given away", "Late duties (": "late duty"} {
		if _, rest, ok := strings.Cut(page, heading); ok {
			n, _, _ := strings.Cut(rest, ")")
			got[name] = number(t, n)
		}
	}
	return got
}

func TestAPrintedHeadIsLaidBesideTheLog(t *testing.T) {
	m := newMuseum(t)
	head := strings.Repeat("0123456789abcdef", 4)
	m.desk.Head = func(_ context.Context, lsn uint64) (string, error) {
		if lsn > 7 {
			return "", fault.New(fault.Missing, "the log has the entries 1 to 7, and no entry %d", lsn)
		}
		return head, nil
	}
	b := m.browser("p-farrow")
	for asked, want := range map[string]string{
		"entry=5&head=" + head:                        "The log has not changed up to entry 5.",
		"entry=5&head=" + strings.ToUpper(head):       "The log has not changed up to entry 5.",
		"entry=5&head=" + head[:32] + "+" + head[32:]: "The log has not changed up to entry 5.", // typed in two groups
		"entry=5&head=1" + head[1:]:                   "The log has changed up to entry 5",
		"entry=5&head=" + head[:63]:                   "The log has changed up to entry 5",
		"entry=8&head=" + head:                        "the log has the entries 1 to 7, and no entry 8",
		"entry=five&head=" + head:                     "an entry is a number",
	} {
		_, page := b.get("/log?" + asked)
		if !strings.Contains(strings.ToLower(page), strings.ToLower(want)) {
			t.Errorf("%s: the page does not say %q", asked, want)
		}
	}
}

func TestTheYearOfTheInstitutionHasItsPageAndItsTable(t *testing.T) {
	m := newMuseum(t)
	m.desk.Office = &reports.Office{Book: wildYear(rand.New(rand.NewPCG(5, 8)))}
	b := m.browser("p-farrow")
	_, page := b.get("/years/2025")
	_, table := b.get("/years/2025.csv")
	cells, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	m.must(err)
	got, all := readYear(t, page), 0
	for _, row := range cells {
		switch row[0] {
		case "total", "kept", "destroyed", "to agencies", "pending":
			if got[row[0]] != number(t, row[7]) {
				t.Errorf("%s: the page says %d, the table %s", row[0], got[row[0]], row[7])
			}
		case "paper: all":
			all += number(t, row[7])
			if !strings.Contains(page, `<td class="n">`+row[7]+`</td>`) {
				t.Errorf("the page does not have the paper's %s animals", row[7])
			}
		}
	}
	if got["total"] == 0 || all == 0 || !strings.Contains(page, "The papers’ own reports") {
		t.Errorf("got total %d, %d animals of papers", got["total"], all)
	}
}
