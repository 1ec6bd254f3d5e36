package reports

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strconv"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
)

// shelf is a book of made-up animals and one state permit for 12 loons.
type shelf struct {
	takes  []catalogue.Take
	papers []catalogue.Paper
	duties []catalogue.Duty
}

func (s *shelf) Takes(context.Context, string) ([]catalogue.Take, catalogue.Place, error) {
	return s.takes, catalogue.Place{LSN: 77, AtMS: 1767225600000, Head: "head"}, nil
}
func (s *shelf) Papers(context.Context) ([]catalogue.Paper, error) { return s.papers, nil }
func (s *shelf) Duties(context.Context) ([]catalogue.Duty, error)  { return s.duties, nil }

const statePermit = `{"id":"STATE","version":1,"kind":"state_salvage","basis":"b","jurisdiction":"US-MI","holder":"museum","valid_from":"2025-01-01","valid_to":"2025-12-31","status":"active",
"area":["US-MI"],"taxa_include":["Aves"],"activities":["salvage"],"report_due":"01-31",
"persons":[{"id":"ana"},{"id":"lena","to":"2025-09-30"},{"id":"idle"}],
"quotas":[{"id":"LOON","per":"taxon","taxa":["Gavia immer"],"limit":12,"window":"calendar_year"}]}`

func open(t *testing.T, takes ...catalogue.Take) (*Office, *shelf) {
	t.Helper()
	s := &shelf{takes: takes, papers: []catalogue.Paper{{ID: "p", Document: json.RawMessage(statePermit)}}}
	return &Office{Book: s}, s
}

var serial int

// loon is one loon taken on the day by the person, covered by the permit.
func loon(day, person string) catalogue.Take {
	serial++
	d, _ := permits.ParseDate(day)
	return catalogue.Take{
		Row: catalogue.Row{ID: fmt.Sprintf("%04d", serial), Name: "Common Loon", Taxon: "Gavia immer", State: "Michigan", County: "Mason", Disposition: "received"},
		Day: d, Person: person, Material: "carcass", Deed: "taken", Named: "STATE", Relies: []string{"STATE"}, Judged: true, Outcome: permits.AllowWithObligations,
	}
}

func year(t *testing.T, o *Office, n int) Year {
	t.Helper()
	y, err := o.Year(context.Background(), "STATE", n)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

func TestTheThirteenthLoonIsOverWhoeverSynchronisedFirst(t *testing.T) {
	var takes []catalogue.Take
	for day := 15; day >= 1; day-- {
		l := loon(fmt.Sprintf("2025-10-%02d", day), "ana")
		if day > 12 {
			l.Relies, l.Near, l.Full, l.Outcome = []string{"FEDERAL"}, []string{"STATE"}, []string{"STATE"}, permits.BreachToResolve
			l.Named = "FEDERAL"
		}
		takes = append(takes, l)
	}
	o, _ := open(t, takes...)
	y := year(t, o, 2025)
	if len(y.Over) != 3 || y.Total != 12 || y.All != 15 || len(y.Bare) != 0 {
		t.Fatalf("got %d over, %d covered, %d in all, %d not covered; want 3, 12, 15, 0", len(y.Over), y.Total, y.All, len(y.Bare))
	}
	for _, e := range y.Over {
		if e.Day < permits.NewDate(2025, 10, 13) {
			t.Errorf("the loon of %v is said to be over; it was among the first twelve", e.Day)
		}
	}
	b := y.Balances[0]
	if b.Used != 12 || b.Over != 3 || b.Free != 0 {
		t.Errorf("got used %d, over %d, free %d; want 12, 3, 0", b.Used, b.Over, b.Free)
	}
}

func TestWhoIsNotListedStandsApart(t *testing.T) {
	late := loon("2025-10-02", "lena")
	late.Relies, late.Near, late.Named, late.Outcome, late.Why = nil, []string{"STATE"}, "", permits.BreachToResolve, "Lena's listing ended on 30 September 2025."
	o, _ := open(t, loon("2025-09-12", "lena"), late, loon("2025-10-03", "ana"))
	y := year(t, o, 2025)
	if y.Total != 2 || len(y.Bare) != 1 || y.Bare[0].Why == "" {
		t.Errorf("got %d covered and %d not; want 2 and 1 with its reason", y.Total, len(y.Bare))
	}
	unlisted := 0
	for _, p := range y.Persons {
		unlisted += p.Unlisted
	}
	if unlisted != 1 {
		t.Errorf("got %d animals by persons who were not listed that day, want 1", unlisted)
	}
	for _, p := range y.Persons {
		if want := map[string]int{"ana": 11, "lena": 8, "idle": 12}[p.Person]; len(p.Idle) != want {
			t.Errorf("%s: got %d months on the list without activity, want %d", p.Person, len(p.Idle), want)
		}
	}
	if len(y.Nil) != 1 || y.Nil[0] != "idle" {
		t.Errorf("got %q without activity, want idle alone", y.Nil)
	}
}

func TestAYearWithoutActivitySaysSo(t *testing.T) {
	o, _ := open(t)
	y := year(t, o, 2025)
	if y.Total != 0 || len(y.Nil) != 3 {
		t.Errorf("got %d animals and %d idle persons, want 0 and 3", y.Total, len(y.Nil))
	}
	if !bytes.Contains(y.CSV(), []byte("no activity")) {
		t.Errorf("the table of an empty year says nothing of it:\n%s", y.CSV())
	}
}

func TestADayNobodyKnowsIsInNoSumAndInSight(t *testing.T) {
	o, _ := open(t, loon("", "ana"), loon("2025-04-01", "ana"))
	y := year(t, o, 2025)
	if y.Total != 1 || len(y.Undated) != 1 || !y.Checks[0].Even() {
		t.Errorf("got %d in sums, %d undated, %+v; want 1, 1, even", y.Total, len(y.Undated), y.Checks[0])
	}
}

func TestEverySumAgreesWithTheLedgerAndTheTable(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 22))
	for range 200 {
		var takes []catalogue.Take
		for range r.IntN(80) {
			l := loon(fmt.Sprintf("202%d-%02d-%02d", 4+r.IntN(2), 1+r.IntN(12), 1+r.IntN(28)), []string{"ana", "lena", "stranger"}[r.IntN(3)])
			l.County = []string{"Mason", "Oceana", ""}[r.IntN(3)]
			l.State = []string{"Michigan", "Indiana"}[r.IntN(2)]
			l.Taxon = []string{"Gavia immer", "Larus delawarensis", ""}[r.IntN(3)]
			l.Name, l.Disposition = l.Taxon, []string{"received", "private_freezer", "agency", "destroyed", "transferred", ""}[r.IntN(6)]
			l.Deed = []string{"taken", "taken", "left"}[r.IntN(3)]
			if r.IntN(6) == 0 {
				l.Relies, l.Outcome = nil, permits.BreachToResolve
			}
			takes = append(takes, l)
		}
		o, _ := open(t, takes...)
		y := year(t, o, 2025)
		for _, c := range y.Checks {
			if !c.Even() {
				t.Fatalf("%s: %s %d, %s %d", c.What, c.LeftName, c.Left, c.RightName, c.Right)
			}
		}
		want, seen := 0, map[string]bool{}
		for _, x := range takes {
			if x.Deed == "taken" && x.Day.Year() == 2025 && len(x.Relies) == 1 {
				want++
			}
		}
		want -= len(y.Over)
		for _, e := range y.Entries {
			if seen[e.Row.ID] {
				t.Fatalf("animal %s stands in the year twice", e.Row.ID)
			}
			seen[e.Row.ID] = true
		}
		lines, subtotals := tableSums(t, y)
		if y.Total != want || lines != want || subtotals != want {
			t.Fatalf("got total %d, lines %d, subtotals %d; counted by hand %d", y.Total, lines, subtotals, want)
		}
		if !bytes.Equal(y.CSV(), year(t, o, 2025).CSV()) {
			t.Fatal("the same log gave two different tables")
		}
	}
}

func tableSums(t *testing.T, y Year) (lines, subtotals int) {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(y.CSV())).ReadAll()
	if err != nil {
		t.Fatalf("the table cannot be read: %v", err)
	}
	for _, row := range rows[1:] {
		n, _ := strconv.Atoi(row[7])
		switch row[0] {
		case "line":
			lines += n
		case "subtotal":
			subtotals += n
		}
	}
	return lines, subtotals
}

func TestTheTableIsRFC4180AndNoFormula(t *testing.T) {
	l := loon("2025-04-01", "ana")
	l.Name, l.Taxon, l.County = "=HYPERLINK(\"x\")", "Larus", "St. \"Joe\",\nMI"
	o, _ := open(t, l)
	table := year(t, o, 2025).CSV()
	if n, all := bytes.Count(table, []byte("\r\n")), bytes.Count(table, []byte("\n")); n < 5 || all-n > 2 {
		t.Errorf("lines must end with CR LF: %d of %d do", n, all)
	}
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := rows[1][1]; got != "'=HYPERLINK(\"x\")" {
		t.Errorf("got %q, want the text marked as text", got)
	}
	if got := rows[1][5]; got != "St. \"Joe\",\nMI" {
		t.Errorf("got county %q", got)
	}
}

func TestAnUnknownPermitIsMissing(t *testing.T) {
	o, _ := open(t)
	if _, err := o.Year(context.Background(), "NONE", 2025); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want missing", err)
	}
	if _, err := o.Permit(context.Background(), "NONE", permits.NewDate(2025, 5, 1)); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want missing", err)
	}
}

func TestPermitShowsVersionsPersonsAndDuties(t *testing.T) {
	l := loon("2025-10-01", "ana")
	o, s := open(t, l, loon("2024-05-01", "ana"))
	s.papers = append(s.papers, catalogue.Paper{ID: "q", Document: json.RawMessage(`{"id":"STATE","version":2,"effective_from":"2025-06-01","kind":"state_salvage","valid_from":"2025-01-01","valid_to":"2025-12-31","status":"active","report_due":"01-31","persons":[{"id":"ana"}]}`)},
		catalogue.Paper{ID: "r", Document: json.RawMessage(`not json`)})
	s.takes[0].Dated = []catalogue.Duty{{Code: "DEPOSIT", Due: "2025-12-31"}, {Code: "NOTIFY_STATE", Due: "2025-10-03"}, {Code: "TELL", Due: "2025-10-01", DoneAt: "2025-10-02", Done: true}}
	other := loon("2025-10-01", "ana")
	other.Relies, other.Near, other.Named = nil, nil, "ANOTHER"
	other.Dated = []catalogue.Duty{{Code: "DEPOSIT", Due: "2025-11-01"}}
	s.takes = append(s.takes, other)
	p, err := o.Permit(context.Background(), "STATE", permits.NewDate(2025, 11, 20))
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Versions) != 2 || !p.Versions[0].Now || p.Versions[0].Version != 2 || p.Versions[1].Until != permits.NewDate(2025, 5, 31) {
		t.Errorf("got versions %+v; want 2 in force, 1 until 31 May 2025", p.Versions)
	}
	if len(p.Persons) != 1 || p.Persons[0].Year != 1 {
		t.Errorf("got persons %+v; want ana with 1 animal this year", p.Persons)
	}
	var due []string
	for _, d := range p.Due {
		due = append(due, d.Code+" "+d.Due)
	}
	want := "[NOTIFY_STATE 2025-10-03 DEPOSIT 2025-12-31 ANNUAL_REPORT 2026-01-31]"
	if fmt.Sprint(due) != want {
		t.Errorf("got duties %v, want %v", due, want)
	}
	if fmt.Sprint(p.Years) != "[2025 2024]" {
		t.Errorf("got years %v, want 2025 and 2024", p.Years)
	}
}

func TestWhatIsLentToPhonesIsNotFree(t *testing.T) {
	o, _ := open(t, loon("2025-10-01", "ana"))
	o.Lent = func(authority, quota, taxon string) int { return 3 }
	rows, err := o.Permits(context.Background(), permits.NewDate(2025, 11, 1))
	if err != nil {
		t.Fatal(err)
	}
	if b := rows[0].Balances[0]; b.Used != 1 || b.Lent != 3 || b.Free != 8 {
		t.Errorf("got used %d, lent %d, free %d; want 1, 3, 8", b.Used, b.Lent, b.Free)
	}
}

// BenchmarkYear takes one year out of ten.
func BenchmarkYear(b *testing.B) {
	const animals = 200000
	s := &shelf{papers: []catalogue.Paper{{ID: "p", Document: json.RawMessage(statePermit)}}}
	for i := range animals {
		l := loon(fmt.Sprintf("%d-%02d-%02d", 2016+i%10, i%12+1, i%28+1), "ana")
		l.Taxon = []string{"Gavia immer", "Larus delawarensis", "Corvus corax"}[i%3]
		s.takes = append(s.takes, l)
	}
	o := &Office{Book: s}
	for b.Loop() {
		if y, err := o.Year(context.Background(), "STATE", 2025); err != nil || y.All != animals/10 {
			b.Fatal(y.All, err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/animals, "ns/animal")
}

func TestWhatWasLeftInPlaceIsListedAndInNoSum(t *testing.T) {
	eagle := loon("2025-04-02", "ana")
	eagle.Deed, eagle.Relies, eagle.Near = "left", nil, []string{"STATE"}
	o, _ := open(t, eagle)
	y := year(t, o, 2025)
	if y.All != 0 || len(y.Observed) != 1 || len(y.Nil) != 3 {
		t.Errorf("got %d in sums, %d recorded and not taken, %d idle; want 0, 1, 3", y.All, len(y.Observed), len(y.Nil))
	}
	if !bytes.Contains(y.CSV(), []byte("not taken,Common Loon")) {
		t.Errorf("the table lacks it:\n%s", y.CSV())
	}
}
