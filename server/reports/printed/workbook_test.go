package printed

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"wayfall/server/fault"
	"wayfall/server/reports"
)

// rawCell is a cell as it stands in the XML of a sheet (ECMA-376, 18.3.1.4):
// type s is a shared word, no type or n a number.
type rawCell struct {
	At    string `xml:"r,attr"`
	Type  string `xml:"t,attr"`
	Style int    `xml:"s,attr"`
	Value string `xml:"v"`
}

func rawSheet(t *testing.T, book []byte, name string) (cells []rawCell) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	var sheet struct {
		Cells []rawCell `xml:"sheetData>row>c"`
	}
	if err := xml.NewDecoder(f).Decode(&sheet); err != nil {
		t.Fatal(err)
	}
	return sheet.Cells
}

func TestTheWorkbookHoldsNumbersAsNumbersAndDaysAsDays(t *testing.T) {
	y := invented(5)
	out, err := XLSX(y, Shipped()[0], Setting{Institution: "museum"})
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got := strings.Join(f.GetSheetList(), " "); got != "Lines Subtotals Sections Persons Transfers Late duties" {
		t.Errorf("the sheets are %s", got)
	}
	rows, err := f.GetRows("Lines")
	if err != nil || len(rows) != 31 { // 5 species × 2 states × 3 months
		t.Fatalf("got %d rows, %v; want a heading and 30 lines", len(rows), err)
	}
	if rows[1][5] != "Jan 2025" || rows[1][6] != "1001" {
		t.Errorf("the first line is %q", rows[1])
	}
	if kind, _ := f.GetCellType("Lines", "G2"); kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
		t.Errorf("G2 is of type %v, want a number", kind)
	}
	sum := 0
	for _, c := range rawSheet(t, out, "xl/worksheets/sheet1.xml") {
		number := c.Type == "" || c.Type == "n"
		switch head := c.At == "G1"; {
		case c.At[0] == 'G' && !head:
			n, err := strconv.Atoi(c.Value)
			if !number || err != nil {
				t.Errorf("%s is no number: %+v", c.At, c)
			}
			sum += n
		case c.At[0] == 'F' && c.At != "F1" && (!number || c.Style == 0):
			t.Errorf("%s is no day with a style: %+v", c.At, c)
		}
	}
	if sum != y.Total {
		t.Errorf("the lines sum up to %d, want %d", sum, y.Total)
	}
	rows, _ = f.GetRows("Sections")
	if len(rows) != 1+4+len(y.Checks) || rows[1][4] != "2025-04-18" || rows[1][8] != "1" {
		t.Errorf("the sections are %q", rows)
	}
	// 18 April 2025 is day 45765 of the calendar that begins with 1900 (ECMA-376, 18.17.4.1).
	at := slices.IndexFunc(rawSheet(t, out, "xl/worksheets/sheet3.xml"), func(c rawCell) bool { return c.At == "E2" && c.Value == "45765" && c.Type != "s" })
	if at < 0 {
		t.Error("the day of the first section is not the number 45765")
	}
	rows, _ = f.GetRows("Persons")
	if len(rows) != 4 || rows[1][3] != "87008" || rows[1][5] != "2025-02 2025-11" {
		t.Errorf("the persons are %q", rows)
	}
	rows, _ = f.GetRows("Subtotals")
	found := map[string]bool{}
	for _, r := range rows {
		if len(r) > 4 {
			found[r[0]+" "+r[4]] = true
		}
	}
	for _, want := range []string{"Together " + strconv.Itoa(y.Total), "All 987654", "Pending 87005", "Used: Loons 87012", "Entry of the log 4321"} {
		if !found[want] {
			t.Errorf("the subtotals lack %q", want)
		}
	}
}

func TestAColumnSetOrdersTheLines(t *testing.T) {
	y := invented(3)
	set, err := Shipped().Ask("short")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(CSV(y, set))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], "|") + " " + strings.Join(rows[1], "|"); got != "Common name|How many|County found|Month found Species 0 é|1001|Mason|2025-01" {
		t.Errorf("got %s", got)
	}
	sum := 0
	for _, r := range rows[1:] {
		n, _ := strconv.Atoi(r[1])
		sum += n
	}
	if sum != y.Total {
		t.Errorf("the lines sum up to %d, want %d", sum, y.Total)
	}
	set, err = Shipped().Ask("date, tag,number")
	if err != nil || set.Per != perAnimal {
		t.Fatalf("got %+v, %v; want a line for each animal", set, err)
	}
	if got := string(CSV(y, set)); got != "Date,Tag,Number\r\n2025-04-18,ABC-0001,1\r\n" {
		t.Errorf("got %q; want only what is covered", got)
	}
	y.Entries = []reports.Entry{y.Entries[0]}
	y.Entries[0].Row.Tag = "=1+1"
	if got := string(CSV(y, set)); !strings.Contains(got, ",'=1+1,") {
		t.Errorf("a formula got through: %q", got)
	}
}

func TestAnUnknownColumnIsRefusedWithAList(t *testing.T) {
	_, err := Shipped().Ask("species,moon_phase,shoe size")
	if !fault.Is(err, fault.Invalid) || len(fault.Pointers(err)) != 2 {
		t.Fatalf("got %v with %v", err, fault.Pointers(err))
	}
	for _, want := range []string{"moon_phase, shoe size", "scientific_name", "totals", "animals"} {
		if !strings.Contains(fault.Sentence(err), want) {
			t.Errorf("the answer does not name %s: %s", want, fault.Sentence(err))
		}
	}
	for file, want := range map[string]string{
		`{"v":1,"sets":[{"id":"a","per":"line","columns":[{"column":"tag","heading":"Tag"}]}]}`:  "not known: tag",
		`{"v":1,"sets":[{"id":"a","per":"week","columns":[{"column":"species","heading":""}]}]}`: "not a \"week\"",
		`{"v":1,"sets":[{"id":"a","per":"line","columns":[]}]}`:                                  "names no column",
		`{"v":1,"sets":[{"id":"","per":"line"}]}`:                                                "no name of its own",
		`{"v":2,"sets":[]}`:              "edition 2",
		`{"v":1,"sets":[],"colour":"x"}`: "cannot be read",
	} {
		if _, err := ReadSets([]byte(file)); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, want %q", file, err, want)
		}
	}
}

func FuzzReadSets(f *testing.F) {
	f.Add(shipped)
	f.Add([]byte(`{"v":1,"sets":[{"id":"a","per":"animal","columns":[{"column":"number","heading":"=x"}]}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := ReadSets(data)
		if err != nil {
			return
		}
		for _, s := range all {
			rows, err := csv.NewReader(bytes.NewReader(CSV(invented(2), s))).ReadAll()
			if err != nil && err != io.EOF {
				t.Fatalf("%+v: %v", s, err)
			}
			for _, r := range rows {
				if len(r) != len(s.Columns) {
					t.Fatalf("%+v: a row has %d cells", s, len(r))
				}
			}
		}
	})
}

func TestEveryFaultOfEverySetIsListed(t *testing.T) {
	_, err := ReadSets([]byte(`{"v":1,"sets":[
		{"id":"a","per":"line","columns":[{"column":"tag","heading":"Tag"},{"column":"moon","heading":"Moon"}]},
		{"id":"good","per":"animal","columns":[{"column":"tag","heading":"Tag"}]},
		{"id":"a","per":"week","columns":[{"column":"species","heading":""}]},
		{"id":"","per":"line","columns":[]}]}`))
	if !fault.Is(err, fault.Invalid) {
		t.Fatalf("got %v, want a refusal", err)
	}
	var got []string
	for _, p := range fault.Pointers(err) {
		got = append(got, p.Pointer)
	}
	want := []string{"/sets/0/columns/tag", "/sets/0/columns/moon", "/sets/2/id", "/sets/2", "/sets/3/id", "/sets/3"}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	t.Log("SHOW", fault.Sentence(err))
}
