package duties_test

import (
	"fmt"
	"testing"
	"wayfall/permits"
	"wayfall/permits/duties"
)

func moment(t *testing.T, s string) permits.Moment {
	t.Helper()
	var m permits.Moment
	if err := m.UnmarshalText([]byte(s)); err != nil {
		t.Fatal(err)
	}
	return m
}

func due(by permits.Moment) duties.Duty {
	return duties.Duty{Obligation: permits.Obligation{Code: "NOTIFY_STATE"}, Subject: "r1", By: by}
}

func TestHowADutyStands(t *testing.T) {
	tests := []struct {
		name, by, now, done string
		want                duties.State
	}{
		{"a day is open until its end", "2026-04-13", "2026-04-13T23:59", "", duties.Open},
		{"a day is late from the next", "2026-04-13", "2026-04-14", "", duties.Late},
		{"an hour is open at the minute", "2026-04-11T14:05", "2026-04-11T14:05", "", duties.Open},
		{"an hour is late a minute after", "2026-04-11T14:05", "2026-04-11T14:06", "", duties.Late},
		{"an hour is late where only the day is known", "2026-04-11T14:05", "2026-04-11", "", duties.Late},
		{"without a time it is never late", "", "2030-01-01", "", duties.Open},
		{"without a clock nothing is late", "2026-04-13", "", "", duties.Open},
		{"done in time", "2026-04-13", "2030-01-01", "2026-04-13", duties.Done},
		{"done a day late", "2026-04-13", "2030-01-01", "2026-04-14", duties.DoneLate},
		{"done without a time shown does not show that it was in time", "2026-04-13", "2026-04-13", "-", duties.DoneLate},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			d := due(moment(t, c.by))
			if c.done != "" {
				e := &duties.Evidence{Proof: "letter 7"}
				if c.done != "-" {
					e.At = moment(t, c.done)
				}
				d.Evidence = e
			}
			if got := d.State(moment(t, c.now)); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestAWordOfTheLawGetsTheInstitutionsOwnTime(t *testing.T) {
	v := permits.Verdict{Obligations: []permits.Obligation{
		{Code: "DONATE_OR_DESTROY", Due: permits.Due{Word: "promptly"}},
		{Code: "DEPOSIT", Due: permits.Due{At: moment(t, "2026-11-10")}},
		{Code: "TAG"}}}
	usual := duties.Usual()
	got := duties.From(&v, "r1", moment(t, "2026-05-10"), &usual)
	want := []struct {
		by  string
		own bool
	}{{"2026-05-17", true}, {"2026-11-10", false}, {"", false}}
	for i, w := range want {
		if got[i].By.String() != w.by || got[i].Own != w.own {
			t.Errorf("%s: got %s, own %v, want %s, own %v", got[i].Code, got[i].By, got[i].Own, w.by, w.own)
		}
	}
}

func TestJudgingAnewKeepsEvidenceAndTheEarlierTime(t *testing.T) {
	old := due(moment(t, "2026-04-13"))
	old.Evidence = &duties.Evidence{Proof: "call 3"}
	again, later := due(moment(t, "2026-04-11")), due(moment(t, "2026-05-01"))
	other := due(moment(t, "2026-04-30"))
	other.Code = "DEPOSIT"
	got := duties.Merge([]duties.Duty{old}, []duties.Duty{again, later, other})
	if len(got) != 2 || got[0].By != again.By || got[0].Evidence == nil {
		t.Errorf("got %+v, want two duties, the first with its evidence and due 2026-04-11", got)
	}
}

func TestEvidenceSettlesItsOwnDutyOnly(t *testing.T) {
	list := []duties.Duty{due(moment(t, "2026-04-13"))}
	settled, loose := duties.Settle(list, []duties.Evidence{
		{Subject: "r1", Code: "NOTIFY_STATE"}, // says nothing that proves it
		{Subject: "r2", Code: "NOTIFY_STATE", Proof: "call 1"},
		{Subject: "r1", Code: "NOTIFY_STATE", Proof: "call 3", At: moment(t, "2026-04-12")},
		{Subject: "r1", Code: "NOTIFY_STATE", Proof: "call 2", At: moment(t, "2026-04-10")}})
	if settled[0].Evidence == nil || settled[0].Evidence.Proof != "call 2" {
		t.Errorf("got evidence %+v, want the earliest, call 2", settled[0].Evidence)
	}
	if len(loose) != 3 {
		t.Errorf("got %d loose, want 3", len(loose))
	}
	if list[0].Evidence != nil {
		t.Error("the list that was handed in has changed")
	}
}

func TestTheAgendaPutsTheMostUrgentFirst(t *testing.T) {
	a, b, c := due(moment(t, "2026-05-01")), due(moment(t, "2026-04-11T10:00")), due(permits.Moment{})
	done := due(moment(t, "2026-01-01"))
	done.Evidence = &duties.Evidence{Proof: "x", At: moment(t, "2026-01-01")}
	got := duties.Agenda([]duties.Duty{c, a, done, b}, moment(t, "2026-04-20"))
	if len(got) != 3 || got[0].By != b.By || got[1].By != a.By || got[2].By.Known() {
		t.Errorf("got %+v, want the hour, the day, then the one without a time", got)
	}
}

func ExampleYearReport() {
	a := permits.Authority{ID: "P1"}
	a.ReportDue, _ = permits.ParseMonthDay("01-31")
	fallback, _ := permits.ParseMonthDay("03-31")
	d := duties.YearReport(&a, 2026, 0, fallback)
	fmt.Println(d.Code, d.By)
	d = duties.YearReport(&permits.Authority{ID: "P2"}, 2026, 3, fallback)
	fmt.Println(d.Code, d.By)
	// Output:
	// FILE_ZERO_REPORT 2027-01-31
	// FILE_REPORT 2027-03-31
}
