package catalogue

import (
	"testing"

	"wayfall/permits"
	"wayfall/permits/duties"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

func TestOpenDutiesStandInHeaps(t *testing.T) {
	all := []Duty{
		{Code: "IDENTIFY_BEFORE_REPORT", Text: "Identify it", Due: "2026-01-31", Who: "jun", Animal: Row{ID: "a"}},
		{Code: "TAG", Text: "Tag it", Done: true},
		{Code: "IDENTIFY_BEFORE_REPORT", Text: "Identify it", Due: "2026-01-31", Who: "ana", Animal: Row{ID: "b"}},
		{Code: "DEPOSIT", Text: "Bring it", Due: "2025-12-31", Who: "ana", Animal: Row{ID: "c"}},
		{Code: "DEPOSIT", Text: "Bring it", Due: "2025-12-31", Void: "it went another way"},
		{Code: "STATE_REPORT_LINE", Text: "A line", Due: "2025-12-31"},
	}
	got := Heaps(all, permits.Moment{Date: permits.NewDate(2026, 1, 15)})
	if len(got) != 2 || got[0].Code != "DEPOSIT" || got[0].State != duties.Late || got[1].State != duties.Open || got[1].Text != "Identify it" {
		t.Fatalf("got %+v, want the late deposit and then two to identify", got)
	}
	if two := got[1].All; len(two) != 2 || two[0].Animal.ID != "a" || two[1].Animal.ID != "b" {
		t.Errorf("got %+v, want the duties on a and b", two)
	}
}

func TestADutyHasItsHourAndTheInstitutionsDayForAWord(t *testing.T) {
	v := permits.Verdict{Obligations: []permits.Obligation{
		{Code: "CALL_LAW_ENFORCEMENT", Due: permits.Due{Word: "immediately"}},
		{Code: "DONATE_OR_DESTROY", Due: permits.Due{Word: "promptly"}},
		{Code: "NOTIFY_STATE", Due: permits.Due{At: permits.NewDate(2025, 6, 14).At(14, 5)}},
		{Code: "DEPOSIT", Due: permits.Due{At: permits.Moment{Date: permits.NewDate(2025, 12, 31)}}},
		{Code: "TAG"}}}
	r := view.Report{}
	r.Found.Shown = record.When{Earliest: "2025-06-12T14:05"}
	got := dutiesOf(v, nil, op.DeviceID{}, began(r))
	for i, want := range []struct {
		name, due, word string
		own             bool
	}{
		{"at once is the day of the find", "2025-06-12", "immediately", true},
		{"promptly is a week", "2025-06-19", "promptly", true},
		{"an hour stays an hour", "2025-06-14T14:05", "", false},
		{"a day stays a day", "2025-12-31", "", false},
		{"without a time there is none", "", "", false},
	} {
		if d := got[i]; d.Due != want.due || d.Word != want.word || d.Own != want.own {
			t.Errorf("%s: got %q, %q, own %v; want %q, %q, own %v", want.name, d.Due, d.Word, d.Own, want.due, want.word, want.own)
		}
	}
	if got := dutiesOf(v, nil, op.DeviceID{}, permits.Moment{})[0].Due; got != "immediately" {
		t.Errorf("without a day of the find: got %q, want the word alone", got)
	}
}

func TestWhatOnlyTheInstitutionCanDoIsItsOwnOnceItHasTheAnimal(t *testing.T) {
	b := &Book{out: Surroundings{Keeper: func() string { return "desmond" }}}
	for _, c := range []struct{ name, code, where, want string }{
		{"in the salvager's freezer", "IDENTIFY_BEFORE_REPORT", "private_freezer", "cal"},
		{"in the museum", "IDENTIFY_BEFORE_REPORT", "received", "desmond"},
		{"what the salvager alone can do", "REPORT_SICK_BIRD", "received", "cal"},
	} {
		if got := b.whose(Duty{Code: c.code, Who: "cal"}, Row{Disposition: c.where}).Who; got != c.want {
			t.Errorf("%s: got it with %s, want with %s", c.name, got, c.want)
		}
	}
	if got := (&Book{}).whose(Duty{Code: "IDENTIFY_BEFORE_REPORT", Who: "cal"}, Row{Disposition: "received"}).Who; got != "cal" {
		t.Errorf("without a keeper: got it with %s, want it left with cal", got)
	}
}
