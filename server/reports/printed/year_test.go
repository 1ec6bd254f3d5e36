package printed

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
)

// invented is a made-up year of many pages with awkward names.
func invented(species int) reports.Year {
	y := reports.Year{Name: "State salvage permit", Year: 2025, Sample: true, Due: permits.NewDate(2026, 1, 31), ToIdentify: 2,
		AsOf:      reports.Stamp{LSN: 4321, AtMS: 1769900000000, Head: strings.Repeat("0123456789abcdef", 4)},
		Authority: permits.Authority{ID: "P1", Number: "SW-17", Holder: "museum", Issuer: "Office of Łódź, Ωmega & Жук", ReportTo: "日本 office"}}
	n := 1000
	for s := range species {
		sp := reports.Species{Name: fmt.Sprintf("Species %d é", s), Taxon: fmt.Sprintf("Genus number%d", s), Material: "carcass"}
		if s == 1 {
			sp.Material = "feather"
		}
		for _, state := range []string{"Michigan", "Québec"} {
			st := reports.State{Name: state}
			c := reports.County{Name: "Mason"}
			for m := range 3 {
				n++
				c.Months = append(c.Months, reports.Month{Month: fmt.Sprintf("2025-%02d", m+1), Count: n})
				c.Count += n
			}
			st.Counties, st.Count = []reports.County{c}, c.Count
			sp.States, sp.Count = append(sp.States, st), sp.Count+st.Count
		}
		y.Species, y.Total = append(y.Species, sp), y.Total+sp.Count
	}
	e := reports.Entry{Row: catalogue.Row{Tag: "ABC-0001", Name: "Común loon", Disposition: "received"}, Day: permits.NewDate(2025, 4, 18), Person: "zoë", Kind: "kept"}
	over, bare, undated, seen := e, e, e, e
	over.Over, over.Why = true, "beyond the number for Loons"
	bare.Bare, bare.Why = true, strings.Repeat("a long reason ", 20)
	undated.Day = 0
	y.Over, y.Bare, y.Undated, y.Observed = []reports.Entry{over}, []reports.Entry{bare}, []reports.Entry{undated}, []reports.Entry{seen}
	y.Entries = []reports.Entry{e, over, bare, undated}
	y.All, y.Kept, y.Transferred, y.Destroyed, y.Lost, y.Pending, y.HeldBefore, y.HeldAfter = 987654, 87001, 87002, 87003, 87004, 87005, 87006, 87007
	y.Agencies = 87020
	y.In = []reports.Transfer{{Row: e.Row, Day: permits.NewDate(2025, 5, 3), From: "zoë", To: catalogue.Here, Note: strings.Repeat("a long note ", 12)}}
	y.Out = []reports.Transfer{{Row: e.Row, Day: permits.NewDate(2025, 6, 7), From: catalogue.Here, To: "Łódź Laboratory of a very long name indeed"}, {Row: e.Row}}
	y.Late = []reports.LateDuty{{Row: e.Row, Person: "zoë", Text: "Hand the animal over", Due: "2025-05-02", Done: "2025-05-03T10:00"}, {Row: e.Row, Person: "zoë", Text: "Notify", Due: "2025-05-04T11:30"}}
	y.Persons = []reports.Acted{{Person: "zoë", Listed: true, Count: 87008, Idle: []string{"2025-02", "2025-11"}}, {Person: "idle", Listed: true, Idle: []string{"2025-01"}}, {Person: "late", Count: 87009, Unlisted: 87010}}
	y.Balances = []reports.Balance{{Name: "Loons", Limit: 87011, Used: 87012, Lent: 87013, Over: 87014, Free: 87015, Window: "in 2025"}, {Name: "Ducks", Unlimited: true, Used: 87016}}
	y.Checks = []reports.Check{{What: "Held", Left: 87017, Right: 87018, LeftName: "one", RightName: "other"}, {What: "Even", Left: 87019, Right: 87019, LeftName: "a", RightName: "b"}}
	return y
}

// numbersIn are the numbers that a print of the year must hold.
func numbersIn(y reports.Year) []int {
	out := []int{y.Total, y.All, y.Kept, y.Transferred, y.Destroyed, y.Lost, y.Agencies, len(y.In), len(y.Out), len(y.Late), y.Pending, y.HeldBefore, y.HeldAfter, y.ToIdentify, int(y.AsOf.LSN), len(y.Over), len(y.Bare), len(y.Undated), len(y.Observed)}
	for _, sp := range y.Species {
		for _, st := range sp.States {
			out = append(out, st.Count)
			for _, c := range st.Counties {
				for _, m := range c.Months {
					out = append(out, m.Count)
				}
			}
		}
	}
	for _, b := range y.Balances {
		out = append(out, b.Used, b.Over)
		if !b.Unlimited {
			out = append(out, b.Limit, b.Lent, b.Free)
		}
	}
	for _, p := range y.Persons {
		out = append(out, p.Count, p.Unlisted)
	}
	for _, c := range y.Checks {
		out = append(out, c.Left, c.Right)
	}
	return out
}

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Fatalf("%s is needed: %v", name, err)
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}

// onDisk writes a file for the tools that look at it.
func onDisk(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

var digits = regexp.MustCompile(`[0-9]+`)

func TestAPrintedYearIsCleanAndHoldsEveryNumberAndLetter(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		y := invented(40)
		out, err := PDF(y, Setting{Paper: paper, Institution: "Musée", Name: func(id string) string { return "Name of " + id }})
		if err != nil {
			t.Fatal(err)
		}
		path := onDisk(t, "year.pdf", out)
		if said := tool(t, "qpdf", "--check", path); !strings.Contains(said, "No syntax or stream encoding errors") {
			t.Errorf("%s: qpdf says %s", paper, said)
		}
		text := tool(t, "pdftotext", "-layout", path, "-")
		has := map[string]bool{}
		for _, n := range digits.FindAllString(text, -1) {
			has[n] = true
		}
		for _, n := range numbersIn(y) {
			if !has[strconv.Itoa(n)] {
				t.Errorf("%s: the number %d is not on the paper", paper, n)
			}
		}
		for _, want := range []string{"Species 0 é", "Québec", "Łódź, Ωmega & Жук", "[U+65E5][U+672C] office", "(feathers)", "Feb, Nov",
			"the whole time on the list", "Name of zoë", "Not for filing", y.AsOf.Head, "I certify", "Signature", "like [U+4E2D]", "! differ by 1", "no ceiling", "beyond the number",
			"Came to the institution (1)", "Given away (2)", "Late duties (2)", "3 May 2025", "7 Jun 2025", "not written down", "! still open", "Musée"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not on the paper", paper, want)
			}
		}
		info := tool(t, "pdfinfo", path)
		pages, _ := strconv.Atoi(digits.FindString(regexp.MustCompile(`Pages: .*`).FindString(info)))
		if pages < 4 {
			t.Fatalf("%s: got %d pages, want several", paper, pages)
		}
		for n := 1; n <= pages; n++ {
			if want := fmt.Sprintf("page %d of %d", n, pages); !strings.Contains(text, want) {
				t.Errorf("%s: %q stands on no page", paper, want)
			}
		}
		size := map[Paper]string{A4: "595.28 x 841.89 pts", Letter: "612 x 792 pts"}[paper]
		if !strings.Contains(info, size) {
			t.Errorf("%s: the sheet is not %s:\n%s", paper, size, info)
		}
	}
}

func TestTheSameYearPrintsTheSameBytes(t *testing.T) {
	y := invented(12)
	first, err := PDF(y, Setting{Paper: Letter})
	if err != nil {
		t.Fatal(err)
	}
	book, err := XLSX(y, Shipped()[0], Setting{})
	if err != nil {
		t.Fatal(err)
	}
	for range 12 {
		if again, _ := PDF(y, Setting{Paper: Letter}); !bytes.Equal(again, first) {
			t.Fatal("the same year printed other bytes")
		}
		if again, _ := XLSX(y, Shipped()[0], Setting{}); !bytes.Equal(again, book) {
			t.Fatal("the same year made another workbook")
		}
	}
	y.Total++
	if other, _ := PDF(y, Setting{Paper: Letter}); bytes.Equal(other, first) {
		t.Error("another total printed the same bytes")
	}
}

func TestAYearWithoutActivitySaysSo(t *testing.T) {
	out, err := PDF(reports.Year{Name: "Permit", Year: 2025}, Setting{})
	if err != nil {
		t.Fatal(err)
	}
	text := tool(t, "pdftotext", "-layout", onDisk(t, "nil.pdf", out), "-")
	if !strings.Contains(text, "No activity. No animal was taken under this authority in 2025.") || !strings.Contains(text, "page 1 of ") {
		t.Errorf("the nil report says:\n%s", text)
	}
}

func TestLettersOutsideTheFontStayVisible(t *testing.T) {
	for text, want := range map[string]string{
		"Zoë":           "Zoë",
		"Zoe\u0308":     "Zoë", // a letter and its mark are one letter
		"a\u4E2Db":      "a[U+4E2D]b",
		"\U0001F426":    "[U+1F426]",
		"a\u200Bb":      "a[U+200B]b",
		"a\tb\u00A0c\n": "a b c ",
		"≥ ≤ – ’ “ ” ·": "≥ ≤ – ’ “ ” ·",
	} {
		got, lost := printable(text)
		if got != want || lost != strings.Contains(want, "[U+") {
			t.Errorf("%q: got %q, lost %v; want %q", text, got, lost, want)
		}
	}
}
