package permits_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"
	"wayfall/permits"
)

// TestDatesAgreeWithAnotherCalendar walks four centuries and a bit, day by day,
// beside the calendar of package time.
func TestDatesAgreeWithAnotherCalendar(t *testing.T) {
	day := permits.NewDate(1799, 12, 25)
	start := day
	other := time.Date(1799, 12, 25, 0, 0, 0, 0, time.UTC)
	for n := range 160_000 {
		if got, want := day.String(), other.Format("2006-01-02"); got != want {
			t.Fatalf("day %d: got %s, want %s", n, got, want)
		}
		if got, want := day.Weekday(), int(other.Weekday()); got != want {
			t.Fatalf("%s: got weekday %d, want %d", day, got, want)
		}
		if got := start.DaysUntil(day); got != n {
			t.Fatalf("%s: got %d days since %s, want %d", day, got, start, n)
		}
		day, other = day.AddDays(1), other.AddDate(0, 0, 1)
	}
}

func TestMonthsEndWhereTheMonthEnds(t *testing.T) {
	tests := []struct {
		from   string
		months int
		want   string
	}{
		{"2026-05-10", 6, "2026-11-10"}, {"2025-08-31", 6, "2026-02-28"}, {"2023-08-31", 6, "2024-02-29"},
		{"2026-01-31", -2, "2025-11-30"}, {"2026-12-31", 12, "2027-12-31"}, {"2026-03-31", -3, "2025-12-31"},
	}
	for _, c := range tests {
		d, err := permits.ParseDate(c.from)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.AddMonths(c.months).String(); got != c.want {
			t.Errorf("%s and %d months: got %s, want %s", c.from, c.months, got, c.want)
		}
	}
}

func TestWhatIsNoDateIsRefused(t *testing.T) {
	for _, s := range []string{"2026-02-29", "2026-13-01", "2026-00-10", "26-01-01", "2026/01/01", "2026-01-1x", "0000-01-01"} {
		if d, err := permits.ParseDate(s); err == nil {
			t.Errorf("%s: got %s, want an error", s, d)
		}
	}
	for _, s := range []string{"2026-01-01T24:00", "2026-01-01T12:60", "2026-01-01 12:00", "2026-01-01T1:00"} {
		if m, err := permits.ParseMoment(s); err == nil {
			t.Errorf("%s: got %s, want an error", s, m)
		}
	}
}

func TestHoursAndWorkingDaysAreDifferentClocks(t *testing.T) {
	thursday := permits.NewDate(2026, 4, 9).At(16, 30)
	hours := permits.DueRule{Hours: 48}
	if got, _ := hours.From(thursday, nil); got.At.String() != "2026-04-11T16:30" {
		t.Errorf("48 hours: got %s, want 2026-04-11T16:30", got.At)
	}
	working := permits.DueRule{BusinessDays: 2}
	if got, _ := working.From(thursday, nil); got.At.String() != "2026-04-13" {
		t.Errorf("two working days: got %s, want Monday 2026-04-13", got.At)
	}
	holiday := permits.Calendar{Holidays: []permits.Date{permits.NewDate(2026, 4, 13)}}
	if got, _ := working.From(thursday, &holiday); got.At.String() != "2026-04-14" {
		t.Errorf("two working days with a holiday: got %s, want 2026-04-14", got.At)
	}
	if got := (permits.Moment{Date: thursday.Date}).AddHours(47).String(); got != "2026-04-10" {
		t.Errorf("47 hours from a day: got %s, want 2026-04-10, never later than it may be", got)
	}
}

func TestAStretchReadsAsItIsWritten(t *testing.T) {
	for _, s := range []string{"", "2026-05-10", "2026-05-10T14:05", "2026-05-10/2026-05-12", "2026-05-10T14:05/2026-05-10T15:00"} {
		var w permits.When
		if err := w.UnmarshalText([]byte(s)); err != nil {
			t.Fatalf("%q: %v", s, err)
		}
		if got := w.String(); got != s {
			t.Errorf("got %q, want %q", got, s)
		}
		if got, want := w.Known(), s != ""; got != want {
			t.Errorf("%q: got known %v, want %v", s, got, want)
		}
	}
	var w permits.When
	if err := w.UnmarshalText([]byte("2026-05-12/2026-05-10")); err == nil {
		t.Error("a stretch that ends before it begins was read")
	}
}

func TestAVersionIsChosenByTheDay(t *testing.T) {
	all := []permits.Authority{
		{ID: "P", Version: 2, EffectiveFrom: permits.NewDate(2025, 6, 1), ValidFrom: permits.NewDate(2025, 1, 1)},
		{ID: "P", Version: 1, ValidFrom: permits.NewDate(2025, 1, 1)},
		{ID: "Q", Version: 9, ValidFrom: permits.NewDate(2025, 1, 1)},
	}
	for day, want := range map[permits.Date]int{permits.NewDate(2025, 5, 31): 1, permits.NewDate(2025, 6, 1): 2,
		permits.NewDate(2024, 1, 1): 1, permits.NewDate(2030, 1, 1): 2} {
		if got := permits.VersionAt(all, "P", day).Version; got != want {
			t.Errorf("%s: got version %d, want %d", day, got, want)
		}
	}
	if permits.VersionAt(all, "R", permits.NewDate(2025, 1, 1)) != nil {
		t.Error("an authority that nobody has was found")
	}
}

func TestAnAuthorityStandsOnlyWhereItsPaperSays(t *testing.T) {
	a := permits.Authority{ValidFrom: permits.NewDate(2025, 4, 1), ValidTo: permits.NewDate(2026, 3, 31)}
	last := permits.NewDate(2026, 3, 31)
	tests := []struct {
		status permits.Status
		on     permits.Date
		want   permits.Answer
	}{
		{permits.Active, last, permits.Yes}, {permits.Active, last.AddDays(1), permits.No}, {permits.Active, 0, permits.Unknown},
		{permits.Active, permits.NewDate(2025, 3, 31), permits.No}, {permits.Continued, last.AddDays(30), permits.Yes},
		{permits.Suspended, last, permits.No}, {permits.Draft, last, permits.No}, {permits.IssuedUnsigned, last, permits.No}, {"", last, permits.No},
	}
	for _, c := range tests {
		a.Status = c.status
		if got := a.InForce(c.on); got != c.want {
			t.Errorf("%q on %s: got %v, want %v", c.status, c.on, got, c.want)
		}
	}
}

func TestWordsSurviveJSON(t *testing.T) {
	for o := permits.AllowWithObligations; o <= permits.ObligationDue; o++ {
		var got permits.Outcome
		if err := got.UnmarshalText([]byte(o.String())); err != nil || got != o {
			t.Errorf("%s: got %s, error %v", o, got, err)
		}
	}
	var o permits.Outcome
	if err := o.UnmarshalText([]byte("unknown")); err == nil {
		t.Error("an unknown outcome was read as one")
	}
	var in struct {
		A permits.Answer  `json:"a"`
		C permits.Consent `json:"c"`
	}
	for text, want := range map[string]permits.Consent{`true`: permits.Written, `false`: permits.Refused, `null`: "",
		`"spoken"`: permits.Spoken, `"not_applicable"`: permits.NotApplicable} {
		if err := json.Unmarshal([]byte(`{"a":null,"c":`+text+`}`), &in); err != nil || in.C != want || in.A != permits.Unknown {
			t.Errorf("%s: got %q and %v, error %v, want %q and unknown", text, in.C, in.A, err, want)
		}
	}
	if err := json.Unmarshal([]byte(`{"a":"yes"}`), &in); err == nil {
		t.Error("a word was read as an answer")
	}
}

const list = `{"id":"l","version":"1","taxa":[
 {"name":"Aquila chrysaetos","english":"Golden Eagle","class":"Aves","genus":"Aquila","groups":["eagle","raptor"],"status":"memory"},
 {"name":"Buteo jamaicensis","english":"Red-tailed Hawk","class":"Aves","genus":"Buteo","groups":["raptor"],"lookalikes":["Buteo lineatus"],"status":"memory"},
 {"name":"Buteo lineatus","english":"Red-shouldered Hawk","class":"Aves","genus":"Buteo","groups":["raptor"],"areas":["US-MI"],"status":"memory"}],
 "bundles":[{"name":"raptor","aliases":["hawk sp."],"of":["raptor"],"complete":["US-MI"]}]}`

func TestANameStandsForAllItMayBe(t *testing.T) {
	c, err := permits.ReadChecklist([]byte(list))
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name, what string
		sure       bool
		where      []string
		taxa       int
		complete   bool
	}{
		{"a species that is sure is itself", "red-tailed hawk", true, nil, 1, true},
		{"one that is not sure may be its look-alike", "Buteo jamaicensis", false, nil, 2, true},
		{"a raptor may be an eagle", "Raptor", true, []string{"US-MI"}, 3, true},
		{"elsewhere the list may lack one", "hawk sp.", true, []string{"US-CA"}, 2, false},
		{"a genus is never held to be complete", "Buteo sp.", true, []string{"US-MI"}, 2, false},
		{"a name that is not listed may be anything", "phoenix", true, nil, 0, false},
	}
	for _, v := range tests {
		t.Run(v.name, func(t *testing.T) {
			got := c.Resolve(v.what, v.sure, v.where)
			if len(got.Taxa) != v.taxa || got.Complete != v.complete {
				t.Errorf("got %d taxa, complete %v, want %d, %v", len(got.Taxa), got.Complete, v.taxa, v.complete)
			}
		})
	}
}

func TestABadChecklistIsRefused(t *testing.T) {
	for name, text := range map[string]string{
		"the same name twice":         `{"taxa":[{"name":"A b","english":"X","class":"Aves","status":"m"},{"name":"C d","english":"x","class":"Aves","status":"m"}]}`,
		"a look-alike that is absent": `{"taxa":[{"name":"A b","english":"X","class":"Aves","status":"m","lookalikes":["C d"]}]}`,
		"no class":                    `{"taxa":[{"name":"A b","english":"X","status":"m"}]}`,
		"no JSON":                     `{`,
	} {
		if _, err := permits.ReadChecklist([]byte(text)); err == nil {
			t.Errorf("%s: got no error", name)
		}
	}
}

func FuzzMoment(f *testing.F) {
	f.Add("2026-05-10")
	f.Add("2026-05-10T14:05")
	f.Add("2026-02-30")
	f.Fuzz(func(t *testing.T, s string) {
		m, err := permits.ParseMoment(s)
		if err == nil && m.String() != s {
			t.Errorf("%q was read and is written as %q", s, m)
		}
	})
}

func ExampleDueRule() {
	var rule permits.DueRule
	err := json.Unmarshal([]byte(`{"min":[{"months":6},{"month_day":"12-31"}]}`), &rule)
	found, _ := permits.ParseDate("2026-10-20")
	due, branch := rule.From(permits.Moment{Date: found}, nil)
	fmt.Println(due.At, branch, err)
	// Output: 2026-12-31 1 <nil>
}
