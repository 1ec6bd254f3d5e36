package server_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"wayfall/permits"
	"wayfall/sync/op"
)

// paperLines are the duties of papers that the list of duties shows, one a line.
func paperLines(page []byte) string {
	var out []string
	for _, m := range regexp.MustCompile(`<input type="hidden" name="duty" value="((?:FILE|HAND)_[A-Z_]+ [0-9-]+)">`).FindAllStringSubmatch(string(page), -1) {
		if len(out) == 0 || out[len(out)-1] != m[1] { // it stands in two forms
			out = append(out, m[1])
		}
	}
	return strings.Join(out, "\n")
}

// TestAPaperIsNotForgotten follows one paper through its years: the report of
// each year that is over, also of one without a find, the renewal thirty days
// before its end (50 CFR 13.22(c)), and nothing before its day comes near.
func TestAPaperIsNotForgotten(t *testing.T) {
	m := open(t, nil)
	put := func(change func(*permits.Authority)) {
		a := permits.Authority{ID: "SC-1", Name: "Collecting permit", Kind: "scientific_collecting_with_salvage", Basis: "invented", Jurisdiction: "US", Holder: "The Museum", Status: permits.Active,
			ValidFrom: permits.NewDate(2025, 1, 1), ValidTo: permits.NewDate(2027, 6, 30), Area: []string{"US-MI"}, TaxaInclude: []string{"us-mbta"},
			Persons: []permits.Grant{{Person: "cal"}}, Activities: []string{"salvage"}, ReportDue: 0}
		if change != nil {
			change(&a)
		}
		expect(t, "enter", m.as("desmond").send("PUT", "/v1/permits/"+a.ID, a, nil), http.StatusOK)
	}
	put(nil)
	cal := m.phone("cal", 1)
	cal.push(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...))

	at := func(year, month, day int) {
		m.now.Store(time.Date(year, time.Month(month), day, 16, 0, 0, 0, time.UTC).UnixMilli())
	}
	for _, c := range []struct {
		name             string
		year, month, day int
		want             string
	}{
		{"in the year of the find nothing is due yet", 2025, 11, 30, ""},
		{"as its end comes near the report does", 2025, 12, 31, "FILE_REPORT 2025"},
		{"the next day the report of the year is", 2026, 1, 1, "FILE_REPORT 2025"},
		{"a year later also that of a year without a find", 2027, 1, 5, "FILE_REPORT 2025\nFILE_ZERO_REPORT 2026"},
		{"as the end comes near the renewal", 2027, 3, 1, "FILE_REPORT 2025\nFILE_ZERO_REPORT 2026\nFILE_RENEWAL 2027-06-30"},
		{"after the end what it covered is handed in", 2027, 7, 1, "FILE_REPORT 2025\nFILE_ZERO_REPORT 2026\nHAND_IN_SPECIMENS 2027-06-30"},
	} {
		at(c.year, c.month, c.day)
		if got := paperLines(expect(t, c.name, m.desk("desmond").get("/duties"), http.StatusOK).body); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.name, got, c.want)
		}
	}

	// What is noted is done; a duty of another year stays.
	at(2027, 1, 5)
	in := typedIn(t, m.desk("desmond").get("/duties").body, "/duties")
	if in.Get("duty") != "FILE_REPORT 2025" {
		t.Fatalf("got the form of %q first, want that of the report of 2025", in.Get("duty"))
	}
	note := url.Values{"report": in["report"], "duty": in["duty"], "evidence": {"sent by post"}, "reference": {"R-7"}}
	expect(t, "note", m.desk("desmond").post("/duties", note), http.StatusSeeOther)
	if got := paperLines(m.desk("desmond").get("/duties").body); got != "FILE_ZERO_REPORT 2026" {
		t.Errorf("after the report of 2025 was noted: got\n%s\nwant that of 2026 alone", got)
	}
	note.Set("duty", "FILE_REPORT 2019")
	if r := m.desk("desmond").post("/duties", note); r.StatusCode != http.StatusConflict {
		t.Errorf("a year that nobody asks for: got %d, want it refused", r.StatusCode)
	}
	waived := url.Values{"report": in["report"], "duty": {"FILE_ZERO_REPORT 2026"}, "document": {"letter 3"}, "by": {"the office"}, "why": {"no report of empty years"}}
	expect(t, "waive", m.desk("desmond").post("/duties/waive", waived), http.StatusSeeOther)
	if got := paperLines(m.desk("desmond").get("/duties").body); got != "" {
		t.Errorf("after the other was waived: got\n%s\nwant nothing", got)
	}

	// A later find in a year that was reported as empty opens it again.
	late := m.phone("cal", 2)
	f := find(map[string]any{"found": map[string]any{"earliest": "2026-05-03T13:40", "latest": "2026-05-03T13:40", "precision": "minute", "zone": "-04:00"}})
	late.push(late.save(groups(t, op.ID{3}, f, op.ID{4})...))
	if got := paperLines(m.desk("desmond").get("/duties").body); got != "FILE_REPORT 2026" {
		t.Errorf("after a find of 2026 came in late: got\n%s\nwant the report of 2026", got)
	}

	// The records of it are kept five years after its end (50 CFR 13.46, memory).
	var sheet struct {
		Keep []struct {
			What, Until, Rule string
			Life              bool `json:"as_long_as_the_specimen"`
		}
	}
	expect(t, "sheet", m.as("desmond").get("/v1/permits/SC-1"), http.StatusOK).into(t, &sheet)
	until, life := "", false
	for _, k := range sheet.Keep {
		if life = life || k.Life; !k.Life {
			until = k.Until
		}
	}
	if until != "2032-06-30" || !life {
		t.Errorf("got %+v kept, want the records until 2032-06-30 and the proof as long as the specimen", sheet.Keep)
	}

	// A draft asks for nothing.
	put(func(a *permits.Authority) { a.Status = permits.Draft })
	if got := paperLines(m.desk("desmond").get("/duties").body); got != "" {
		t.Errorf("a draft: got\n%s\nwant nothing", got)
	}
}

// TestTheReportOfAYearStandsInEveryOfficersCalendar reads the feed.
func TestTheReportOfAYearStandsInEveryOfficersCalendar(t *testing.T) {
	m := open(t, nil)
	narrowPapers(t, m)
	cal := m.phone("cal", 1)
	cal.push(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...))
	m.now.Store(time.Date(2026, 1, 10, 16, 0, 0, 0, time.UTC).UnixMilli())
	var where struct{ Address string }
	expect(t, "address", m.as("desmond").post("/v1/people/desmond/calendar", nil), http.StatusCreated).into(t, &where)
	feed := string(expect(t, "feed", m.nobody().ask("GET", where.Address, nil, nil), http.StatusOK).body)
	if n := strings.Count(strings.ReplaceAll(feed, "\r\n ", ""), "File the yearly report"); n != 2 || !strings.Contains(feed, "20260131") {
		t.Errorf("got %d reports in\n%s\nwant the two papers’, due on 31 January 2026", n, feed)
	}
}
