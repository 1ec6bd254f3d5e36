package web

import (
	"context"
	"net/url"
	"slices"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/sync/op"
)

func TestWhatHurtsFirstStandsOnTop(t *testing.T) {
	today := permits.NewDate(2025, 10, 5)
	duty := func(code, due string) catalogue.Duty {
		severity := map[string]permits.Severity{"NOTIFY_STATE": permits.OfLaw, "REPORT_BAND": permits.OfAdvice}[code]
		return catalogue.Duty{Code: code, Due: due, Who: "ana", Text: code + due, Severity: severity}
	}
	var b dutiesBody
	b.fill([]catalogue.Duty{
		duty("REPORT_BAND", "2025-10-01"), duty("DEPOSIT", "2025-12-31"), duty("DEPOSIT", "2025-10-04"), duty("NOTIFY_STATE", "2025-10-06"), duty("NOTIFY_STATE", "2025-10-05T09:00"),
		duty("SALVAGE_LINE", "2025-10-01"), {Code: "TAG", Done: true}, {Code: "DEPOSIT", Void: "it went another way"},
	}, today)
	var got []string
	for _, d := range b.Owed[0].Duties {
		got = append(got, d.Text)
	}
	want := []string{"NOTIFY_STATE2025-10-05T09:00", "NOTIFY_STATE2025-10-06", "DEPOSIT2025-10-04", "DEPOSIT2025-12-31", "REPORT_BAND2025-10-01"}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if b.Open != 5 || b.Late != 2 || b.Done != 1 || b.Void != 1 {
		t.Errorf("got %d open, %d late, %d done, %d void; want 5, 2, 1, 1", b.Open, b.Late, b.Done, b.Void)
	}
}

func TestTheCountdownSaysHowManyDaysAreLeft(t *testing.T) {
	for due, want := range map[string]int{"2025-12-31": 87, "2025-10-05": 0, "2025-10-01": -4} {
		f := countdown(catalogue.Duty{Code: "DEPOSIT", Due: due}, permits.NewDate(2025, 10, 5))
		if f.Days != want || !strings.Contains(string(f.Bar), "<svg") {
			t.Errorf("%s: got %d days, %s; want %d days", due, f.Days, f.Bar, want)
		}
	}
	if f := countdown(catalogue.Duty{Code: "DEPOSIT", Due: "promptly"}, permits.NewDate(2025, 10, 5)); f.Bar != "" {
		t.Errorf("a word without a day is drawn: %s", f.Bar)
	}
}

func TestTheListOfDutiesIsAPageOnWhichTheyAreNotedAsDone(t *testing.T) {
	m := newMuseum(t)
	m.desk.Duties = func(context.Context) ([]catalogue.Duty, error) {
		return []catalogue.Duty{{Code: "DEPOSIT", Text: "Deposit it", Due: "2099-12-31", Who: "p-ana", Report: "R1", Animal: catalogue.Row{ID: "A1", Tag: "ABC-0001", Name: "Common Loon", Disposition: "private_freezer"}}}, nil
	}
	status, text := m.browser("p-farrow").get("/duties")
	if status != 200 {
		t.Fatalf("got %d: %s", status, text)
	}
	for _, want := range []string{"Still in private freezers", "days left", "Note as done", "ABC-0001", `name="reference"`, "not legal advice"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func TestADutyIsWaivedByADocumentOnly(t *testing.T) {
	m := newMuseum(t)
	report, _ := m.find(seenFind{1, "p-ana", "2025-10-20", "Common Loon", "Gavia immer", "Beach", "Mason", "take", "taken", 43.9512, -86.4601, 38, 205})
	book := m.desk.Book.(*catalogue.Book)
	m.desk.Duties = book.Duties
	m.must(m.log.WriteIf(context.Background(), catalogue.Hand{Person: "server", AtMS: sampleDay.UnixMilli(), Zone: "-04:00"}, func(catalogue.Read) ([]op.Group, error) {
		return []op.Group{{ID: report, Kind: "report", Acts: []op.Act{op.Event("verdicts", val(verdictFor("take", "state-2025")))}}}, nil
	}))
	of := func() (out catalogue.Duty) {
		all, err := book.Duties(context.Background())
		m.must(err)
		for _, d := range all {
			if d.Report == report.String() && d.Code == "DEPOSIT" {
				return d
			}
		}
		t.Fatal("the find has no duty to deposit")
		return
	}
	form := url.Values{"report": {report.String()}, "duty": {"DEPOSIT"}, "by": {"State wildlife office"}, "why": {"too decayed to keep"}}
	before := of()
	if status, text, _ := m.browser("p-farrow").post("/duties/waive", form); status != 422 && status != 400 || !strings.Contains(text, "by a document only") {
		t.Errorf("without a document: got %d, want a refusal that says why", status)
	}
	if got := of(); got.Waived || len(got.History) != len(before.History) {
		t.Errorf("a refused waiver was kept: %+v", got)
	}
	form.Set("document", "Letter 2025-77")
	if status, _, _ := m.browser("p-ana").post("/duties/waive", form); status != 403 {
		t.Errorf("a salvager waives: got %d, want 403", status)
	}
	if status, text, _ := m.browser("p-farrow").post("/duties/waive", form); status != 303 {
		t.Fatalf("got %d, want 303: %s", status, text)
	}
	got := of()
	if !got.Waived || got.Done || !strings.Contains(got.Void, "State wildlife office, document Letter 2025-77: too decayed") {
		t.Errorf("got %+v, want it waived with its document", got)
	}
	_, text := m.browser("p-farrow").get("/duties")
	if !strings.Contains(text, "Letter 2025-77") || !strings.Contains(text, "waived") {
		t.Error("the page does not show the waiver")
	}
	if err := wellFormed(text); err != nil {
		t.Error(err)
	}
	t.Logf("SHOW %s: %s", got.Code, got.Void)
}
