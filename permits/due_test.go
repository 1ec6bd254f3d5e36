package permits

import (
	"testing"
	"time"
)

// Summer time of the United States: 15 U.S.C. 260a, from the second Sunday of
// March to the first of November, at two o'clock local time. Of Great Britain:
// Summer Time Act 1972, from the last Sunday of March to the last of October,
// at one o'clock Greenwich time. Of New South Wales: Standard Time Act 1987,
// from the first Sunday of October to the first of April, at two o'clock
// standard time. All from memory; the test holds them to the time zone
// database.
var zones = []Zone{
	{"America/Detroit", &Summer{60, Turn{3, 2, 2}, Turn{11, 1, 2}, "15 U.S.C. 260a"}},
	{"Europe/London", &Summer{60, Turn{3, 5, 1}, Turn{10, 5, 2}, "Summer Time Act 1972"}},
	{"Australia/Sydney", &Summer{60, Turn{10, 1, 2}, Turn{4, 1, 3}, "Standard Time Act 1987 (NSW)"}},
	{"Australia/Brisbane", nil},
}

// TestHoursAreTrueHours walks two years by the hour and adds hours as the time
// zone database does.
func TestHoursAreTrueHours(t *testing.T) {
	asked := 0
	for _, z := range zones {
		at, err := time.LoadLocation(z.Name)
		if err != nil {
			t.Fatalf("the time zone database lacks %s: %v", z.Name, err)
		}
		seen := map[Moment]bool{}
		for when := time.Date(2025, 1, 1, 0, 30, 0, 0, at); when.Year() < 2027; when = when.Add(time.Hour) {
			from := momentAt(when)
			if seen[from] {
				continue // the hour that the clock shows again: the first was asked
			}
			seen[from] = true
			for _, h := range []int{1, 24, 36, 48, 120} {
				asked++
				if got, want := z.AddHours(from, h), momentAt(when.Add(time.Duration(h)*time.Hour)); got != want {
					t.Fatalf("%s: %d hours from %s: got %s, want %s", z.Name, h, from, got, want)
				}
			}
		}
	}
	t.Logf("SHOW %d sums of hours in %d zones as the time zone database has them", asked, len(zones))
	if asked < 300_000 {
		t.Errorf("got %d sums, want 300,000 or more", asked)
	}
}

func momentAt(t time.Time) Moment {
	return NewDate(t.Year(), int(t.Month()), t.Day()).At(t.Hour(), t.Minute())
}

// calendars: federal holidays by 5 U.S.C. 6103; a week of five days with
// Friday and Saturday off is invented.
var (
	federal = Calendar{Holidays: []Date{NewDate(2025, 7, 4), NewDate(2025, 11, 27), NewDate(2025, 12, 25), NewDate(2026, 1, 1)},
		Source: "5 U.S.C. 6103", Zone: &zones[0]}
	sundayWeek = Calendar{Weekend: []string{"friday", "saturday"}}
)

var dues = []struct {
	name   string
	rule   DueRule
	cal    *Calendar
	anchor string
	want   string
}{
	{"hours, over the night the clock is put on", DueRule{Hours: 48}, &federal, "2025-03-08T14:00", "2025-03-10T15:00"},
	{"hours, over the night the clock is put back", DueRule{Hours: 48}, &federal, "2025-11-01T14:00", "2025-11-03T13:00"},
	{"48 hours over a weekend", DueRule{Hours: 48}, &federal, "2025-05-09T16:00", "2025-05-11T16:00"},
	{"two business days over a weekend are not 48 hours", DueRule{BusinessDays: 2}, &federal, "2025-05-09T16:00", "2025-05-13"},
	{"two business days over a holiday", DueRule{BusinessDays: 2}, &federal, "2025-07-03", "2025-07-08"},
	{"two business days where Friday and Saturday are off", DueRule{BusinessDays: 2}, &sundayWeek, "2025-05-08", "2025-05-12"},
	{"two business days of nobody's calendar", DueRule{BusinessDays: 2}, nil, "2025-05-09", "2025-05-13"},
	{"five days", DueRule{Days: 5}, &federal, "2026-04-20", "2026-04-25"},
	{"thirty days before the end", DueRule{DaysBefore: 30}, &federal, "2026-03-31", "2026-03-01"},
	{"six months from the last of August", DueRule{Months: 6}, &federal, "2025-08-31", "2026-02-28"},
	{"five years from a leap day", DueRule{Years: 5}, &federal, "2024-02-29", "2029-02-28"},
	{"31 January of the next year", DueRule{MonthDay: monthDay("01-31"), Year: 1}, &federal, "2025-06-01", "2026-01-31"},
	{"the earlier of six months and the year's end, in May", DueRule{Min: []DueRule{{Months: 6}, {MonthDay: monthDay("12-31")}}}, nil, "2026-05-10", "2026-11-10"},
	{"the earlier of six months and the year's end, in October", DueRule{Min: []DueRule{{Months: 6}, {MonthDay: monthDay("12-31")}}}, nil, "2026-10-20", "2026-12-31"},
	{"the later of six months and the year's end, in October", DueRule{Max: []DueRule{{Months: 6}, {MonthDay: monthDay("12-31")}}}, nil, "2026-10-20", "2027-04-20"},
	{"the earlier of 48 hours and two business days, mid-week", DueRule{Min: []DueRule{{Hours: 48}, {BusinessDays: 2}}}, &federal, "2025-05-06T09:00", "2025-05-08T09:00"},
	{"the earlier of a day and the later of two", DueRule{Min: []DueRule{{Days: 40}, {Max: []DueRule{{Days: 10}, {Months: 1}}}}}, nil, "2025-05-01", "2025-06-01"},
	{"an unknown day", DueRule{Days: 5}, nil, "", ""},
}

func monthDay(s string) MonthDay {
	md, err := ParseMonthDay(s)
	if err != nil {
		return 0
	}
	return md
}

func TestDueTimes(t *testing.T) {
	for _, c := range dues {
		var from Moment
		if c.anchor != "" {
			var err error
			if from, err = ParseMoment(c.anchor); err != nil {
				t.Fatal(err)
			}
		}
		if c.rule.Clocks() != 1 {
			t.Errorf("%s: got %d clocks, want one", c.name, c.rule.Clocks())
		}
		due, _ := c.rule.From(from, c.cal)
		if got := due.At.String(); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

func TestEachBranchCountsFromItsOwnAnchor(t *testing.T) {
	at := map[string]string{"": "2026-05-10", "possessed": "2026-05-10", "expiry": "2026-06-30", "found": "2026-05-01"}
	of := func(anchor string) Moment {
		m, err := ParseMoment(at[anchor])
		if err != nil {
			return Moment{}
		}
		return m
	}
	for _, c := range []struct {
		name string
		rule DueRule
		want string
	}{
		{"six months after the pick-up or sixty days after the end", DueRule{Min: []DueRule{{Months: 6}, {Days: 60, Anchor: "expiry"}}}, "2026-08-29"},
		{"a branch without an anchor takes that of the whole", DueRule{Anchor: "found", Min: []DueRule{{Days: 2}, {Days: 60, Anchor: "expiry"}}}, "2026-05-03"},
		{"a branch whose anchor is not known leaves it to the others", DueRule{Min: []DueRule{{Days: 2, Anchor: "transfer"}, {Days: 3}}}, "2026-05-13"},
	} {
		if due, _ := c.rule.Count(of, nil); due.At.String() != c.want {
			t.Errorf("%s: got %s, want %s", c.name, due.At, c.want)
		}
	}
}

func TestAPoorCalendarIsNamed(t *testing.T) {
	for _, c := range []struct {
		name string
		cal  Calendar
		path string
	}{
		{"a day that is none", Calendar{Weekend: []string{"Sunday"}}, "weekend"},
		{"no day left to work", Calendar{Weekend: weekdays[:6]}, "weekend"},
		{"holidays without a source", Calendar{Holidays: []Date{NewDate(2025, 1, 1)}}, "source"},
		{"a holiday after the list ends", Calendar{Holidays: []Date{NewDate(2027, 1, 1)}, Source: "x", Until: NewDate(2026, 12, 31)}, "holidays"},
		{"a holiday twice", Calendar{Holidays: []Date{NewDate(2025, 1, 1), NewDate(2025, 1, 1)}, Source: "x"}, "holidays"},
		{"a clock put on by nothing", Calendar{Zone: &Zone{"X", &Summer{0, Turn{3, 2, 2}, Turn{11, 1, 2}, "law"}}}, "zone.summer.ahead"},
		{"a thirteenth month", Calendar{Zone: &Zone{"X", &Summer{60, Turn{13, 2, 2}, Turn{11, 1, 2}, "law"}}}, "zone.summer.begins"},
		{"summer time without a law", Calendar{Zone: &Zone{"X", &Summer{60, Turn{3, 2, 2}, Turn{11, 1, 2}, ""}}}, "zone.summer.source"},
		{"a zone without a name", Calendar{Zone: &Zone{}}, "zone.name"},
	} {
		got := c.cal.Faults()
		if len(got) != 1 || got[0].Path != c.path || got[0].What == "" {
			t.Errorf("%s: got %v, want one fault at %s", c.name, got, c.path)
		}
	}
	for _, good := range []Calendar{{}, federal, sundayWeek} {
		if got := good.Faults(); len(got) != 0 {
			t.Errorf("got %v of a sound calendar", got)
		}
	}
}
