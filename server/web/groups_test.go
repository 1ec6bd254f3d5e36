package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
)

func TestDutiesStandByWhatIsLeftToDo(t *testing.T) {
	g := groupDuties([]catalogue.Duty{
		{Code: "A", Due: "2025-12-31"}, {Code: "B"}, {Code: "C", Due: "2025-01-31", Void: "not taken"}, {Code: "D", Done: true}, {Code: "E", Due: "immediately"}, {Code: "F", Due: "2025-02-01"},
	})
	var open string
	for _, d := range g.Open {
		open += d.Code
	}
	if open != "EFAB" || len(g.Done) != 1 || len(g.Void) != 1 {
		t.Errorf("got open %q, %d done, %d void; want EFAB, 1, 1", open, len(g.Done), len(g.Void))
	}
}

func TestOneThingToDoForManyAnimalsIsOneLine(t *testing.T) {
	var all []catalogue.Duty
	for i := range 9 {
		all = append(all, catalogue.Duty{Text: "Bring it to the institution", Due: fmt.Sprintf("2025-11-%02d", 20-i)})
	}
	all = append(all, catalogue.Duty{Text: "Notify the state office", Due: "2025-11-14"})
	got := groupDue(all)
	if len(got) != 2 || len(got[0].All) != 9 || got[1].Text != "Notify the state office" {
		t.Errorf("got %d groups, %d in the first, %q last; want 2, 9, the notice", len(got), len(got[0].All), got[len(got)-1].Text)
	}
}

func TestAPermitShowsWhatComesFirstAndTheRestOnRequest(t *testing.T) {
	m := newMuseum(t)
	office := newPaper()
	for i := range 7 {
		office.due = append(office.due, catalogue.Duty{Text: fmt.Sprintf("Duty number %d", i), Due: fmt.Sprintf("2025-12-%02d", i+1), Animal: catalogue.Row{ID: "x", Name: "Hermit Thrush"}})
	}
	m.desk.Office = office
	b := m.browser("p-farrow")
	for path, want := range map[string][2]string{"/permits/state-2025": {"Duty number 0", "Duty number 6"}, "/permits/state-2025?due=all": {"Duty number 6", "open duties"}} {
		_, body := b.get(path)
		if !strings.Contains(body, want[0]) || strings.Contains(body, want[1]) {
			t.Errorf("%s: want %q and not %q", path, want[0], want[1])
		}
	}
}

func TestWhatNeedsALookComesTwentyAtATimeTheGravestFirst(t *testing.T) {
	m := newMuseum(t)
	queue := &pile{}
	for i := range 45 {
		code := []intake.Code{intake.PhotoBad, intake.PlaceDoubt, intake.NotCovered}[i%3]
		queue.items = append(queue.items, intake.Item{ID: fmt.Sprintf("i%d", i), Code: code, Why: fmt.Sprintf("item number %d", i), Kind: "report", Record: "r", LSN: uint64(i)})
	}
	m.desk.Queue = queue
	b := m.browser("p-farrow")
	seen := map[string]int{}
	for i, from := range []string{"", "?from=20", "?from=40"} {
		_, body := b.get("/review" + from)
		if err := wellFormed(body); err != nil {
			t.Error(err)
		}
		n := strings.Count(body, "<article")
		if want := min(20, 45-20*i); n != want {
			t.Errorf("page %d: got %d items, want %d", i, n, want)
		}
		for k := range 45 {
			if strings.Contains(body, fmt.Sprintf("Item number %d.", k)) {
				seen[fmt.Sprint(k)]++
			}
		}
		first := strings.Index(body, "Taken without cover")
		if i == 0 && (first < 0 || strings.Index(body, "The place cannot be quite right") < first) {
			t.Error("the gravest kind does not come first")
		}
	}
	if len(seen) != 45 {
		t.Errorf("got %d of 45 items on three pages", len(seen))
	}
	if _, body := b.get("/review?code=place_doubt"); strings.Count(body, "<article") != 15 || strings.Contains(body, "Taken without cover") {
		t.Error("a kind alone must show its 15 items and no other")
	}
	if _, body := b.get("/review?from=9000"); strings.Count(body, "<article") != 5 {
		t.Error("a page beyond the end must be the last page")
	}
}

func TestSettlingComesBackToThePageOnThisSite(t *testing.T) {
	m := newMuseum(t)
	m.desk.Queue = &pile{}
	b := m.browser("p-farrow")
	for back, want := range map[string]string{"/review?code=differs&from=20": "/review?code=differs&from=20", "": "/review", "//elsewhere.example": "/review", "/review?\r\nx": "/", "https://elsewhere.example/review?": "/review"} {
		if _, _, to := b.post("/review/1/settle", url.Values{"how": {"seen"}, "back": {back}}); to != want {
			t.Errorf("back %q: got %q, want %q", back, to, want)
		}
	}
}

func TestOnePressAcceptsWhatAgreesAndNothingElse(t *testing.T) {
	m := newMuseum(t)
	ctx := context.Background()
	find := func(n uint, name, sci, outcome string) {
		m.find(seenFind{1, "p-ana", "2025-10-24", name, sci, "County library", "Muskegon", outcome, "taken", 43.2, -86.2, 9, n})
	}
	find(301, "Cedar Waxwing", "Bombycilla cedrorum", "take")
	find(302, "Hermit Thrush", "Catharus guttatus", "take")
	find(303, "Common Loon", "Gavia immer", "take")
	find(304, "Bald Eagle", "Haliaeetus leucocephalus", "stop")
	find(305, "Mallard", "Anas platyrhynchos", "take")
	hand := catalogue.Hand{Person: "p-stasik", AtMS: sampleDay.UnixMilli(), Local: "2025-11-20T10:30", Zone: "-05:00"}
	id, err := m.desk.Hands.BeginArrival(ctx, hand, catalogue.Opening{From: "Ana"})
	m.must(err)
	m.must(m.desk.Hands.AddLines(ctx, hand, id, makeTag(301)+" Cedar Waxwing\n"+makeTag(302)+" thrush sp.\n"+makeTag(303)+" Barn Owl\n"+makeTag(304)+" Bald Eagle\n"))
	for n := uint(301); n <= 305; n++ {
		m.must(noID(m.desk.Hands.AddBag(ctx, hand, id, catalogue.Typed{Tag: makeTag(n)})))
	}
	if status, _, _ := m.browser("p-reader").post("/arrivals/"+id+"/accept-all", nil); status != http.StatusForbidden {
		t.Errorf("a reader: got %d, want 403", status)
	}
	b := m.browser("p-stasik")
	if _, body := b.get("/arrivals/" + id); !strings.Contains(body, "Accept the 2 that agree") || !strings.Contains(body, "Leave it") {
		t.Error("the page must offer the two that agree, and say what the rules answered to the eagle")
	}
	if status, _, _ := b.post("/arrivals/"+id+"/accept-all", url.Values{"freezer": {"F3"}}); status != http.StatusSeeOther {
		t.Errorf("got %d", status)
	}
	sheet, err := m.desk.Book.Arrival(ctx, id)
	m.must(err)
	if sheet.Accepted != 2 {
		t.Errorf("got %d accepted, want the waxwing and the thrush alone", sheet.Accepted)
	}
	b.post("/arrivals/"+id+"/accept-all", nil)
	if sheet, _ = m.desk.Book.Arrival(ctx, id); sheet.Accepted != 2 {
		t.Errorf("a second press: got %d accepted, want 2", sheet.Accepted)
	}
}

func TestAnArrivalIsEnteredOnTheDayItCame(t *testing.T) {
	m := newMuseum(t)
	b := m.browser("p-stasik")
	if status, _, _ := b.post("/arrivals", url.Values{"from": {"Ana"}, "at": {"2025-11-03T14:30"}}); status != http.StatusSeeOther {
		t.Fatalf("got %d", status)
	}
	rows, err := m.desk.Book.Arrivals(context.Background())
	m.must(err)
	if len(rows) != 1 || rows[0].At.Earliest != "2025-11-03T14:30" || rows[0].At.Zone != "-05:00" {
		t.Errorf("got %+v", rows)
	}
	status, body, _ := b.post("/arrivals", url.Values{"from": {"Cal Whitlock"}, "at": {"2026-11-03T14:30"}})
	if status != http.StatusUnprocessableEntity || !strings.Contains(body, "lies ahead") || !strings.Contains(body, "Cal Whitlock") {
		t.Errorf("a day that lies ahead: got %d, want 422, a sentence and what was typed", status)
	}
}

func TestALineShowsWhatItsTagAndNameDoNot(t *testing.T) {
	for _, c := range [][4]string{
		{"K7Q-204-M Eastern Screech-Owl, 18 Oct", "K7Q-204-M", "Eastern Screech-Owl", "18 Oct"},
		{"k7q204m owl, small", "K7Q204M", "Eastern Screech-Owl", "owl, small"},
		{"a grebe, tag lost", "", "", "a grebe, tag lost"},
		{"K7Q-204-M", "K7Q-204-M", "Common Loon", ""},
	} {
		if got := restOfLine(c[0], c[1], c[2]); got != c[3] {
			t.Errorf("%q: got %q, want %q", c[0], got, c[3])
		}
	}
}

func TestWhatMostSayIsSaidOnce(t *testing.T) {
	said := func(lsn uint64) catalogue.Fact { return catalogue.Fact{Said: []catalogue.Said{{LSN: lsn}}} }
	if main := mainly([]catalogue.Fact{said(3), said(4), said(4), said(4)}); main == nil || main.LSN != 4 {
		t.Errorf("got %+v, want the save of entry 4", main)
	}
	if main := mainly([]catalogue.Fact{said(3), said(4), said(4)}); main != nil {
		t.Errorf("two values are no crowd: got %+v", main)
	}
}

func TestLateIsAShapeAndAWord(t *testing.T) {
	today := permits.NewDate(2025, 11, 20)
	if got := string(dueMark("2025-11-18", today)); !strings.Contains(got, "2 days late") || !strings.Contains(got, "<svg") {
		t.Errorf("got %s", got)
	}
	if got := string(dueMark("<b>", today)); got != "&lt;b&gt;" {
		t.Errorf("got %s, want it escaped", got)
	}
}

func TestADutyIsNotedAsDoneAtTheDesk(t *testing.T) {
	m := newMuseum(t)
	_, grebe := m.find(seenFind{3, "p-quist", "2025-11-05", "Horned Grebe", "Podiceps auritus", "North pier", "Mason", "take", "taken", 43.95, -86.46, 20, 320})
	sheet, err := m.desk.Book.Animal(context.Background(), grebe.String())
	m.must(err)
	path := "/finds/" + sheet.Reports[0].ID + "/duties"
	form := url.Values{"duty": {"DEPOSIT"}, "evidence": {"brought to the state museum, receipt 7"}, "back": {"/animals/" + grebe.String()}}
	if status, _, _ := m.browser("p-reader").post(path, form); status != http.StatusForbidden {
		t.Errorf("a reader: got %d, want 403", status)
	}
	b := m.browser("p-farrow")
	if _, body := b.get("/animals/" + grebe.String()); !strings.Contains(body, "Note as done") || wellFormed(body) != nil {
		t.Errorf("an open duty must offer to be noted: %v", wellFormed(body))
	}
	for name, bad := range map[string]url.Values{"no word on it": {"duty": {"DEPOSIT"}}, "a duty nobody asks for": {"duty": {"CALL"}, "evidence": {"x"}}} {
		if status, _, _ := b.post(path, bad); status < 400 || status >= 500 {
			t.Errorf("%s: got %d", name, status)
		}
	}
	if status, _, to := b.post(path, form); status != http.StatusSeeOther || to != "/animals/"+grebe.String() {
		t.Errorf("got %d to %q", status, to)
	}
	sheet, err = m.desk.Book.Animal(context.Background(), grebe.String())
	m.must(err)
	for _, d := range sheet.Duties {
		if d.Code == "DEPOSIT" && (!d.Done || d.Evidence != form.Get("evidence")) {
			t.Errorf("got %+v, want it done with what was written", d)
		}
	}
}
