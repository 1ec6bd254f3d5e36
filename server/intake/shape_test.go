package intake_test

import (
	"strings"
	"testing"
	"time"

	"wayfall/server/intake"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

var received = time.Date(2025, 10, 3, 18, 0, 0, 0, time.UTC) // 14:00 in Michigan

func TestWhatIsOddAboutAValue(t *testing.T) {
	for _, c := range []struct {
		name, field, value string
		code               intake.Code // "" is nothing odd
		at, why            string
	}{
		{"a place on the shore", "place", `{"known":true,"lat":43.59,"lon":-86.52,"radius_m":12}`, "", "", ""},
		{"latitude 91", "place", `{"known":true,"lat":91,"lon":-186}`, intake.PlaceDoubt, "/lat", "beyond a pole"},
		{"latitude and longitude swapped", "place", `{"known":true,"lat":-98.52,"lon":43.59}`, intake.PlaceDoubt, "/lat", "may be swapped"},
		{"longitude 181", "fix", `{"lat":43,"lon":181}`, intake.PlaceDoubt, "/lon", "past the date line"},
		{"0, 0", "fix", `{"lat":0,"lon":0}`, intake.PlaceDoubt, "", "Gulf of Guinea"},
		{"words only", "place", `{"source":"words"}`, "", "", ""},
		{"a radius below nothing", "place", `{"known":true,"lat":43,"lon":-86,"radius_m":-1}`, intake.BadValue, "/radius_m", "not a distance"},
		{"a minute of today", "found", `{"earliest":"2025-10-03T13:59","latest":"2025-10-03T13:59","precision":"minute","zone":"-04:00"}`, "", "", ""},
		{"tomorrow", "found", `{"earliest":"2025-10-04T09:00","zone":"-04:00"}`, intake.DateDoubt, "/earliest", "4 Oct 2025 lies in the future"},
		{"today already begun in the east", "found", `{"earliest":"2025-10-04T07:00"}`, "", "", ""},
		{"31 February", "found", `{"earliest":"2025-02-31T10:00"}`, intake.DateDoubt, "/earliest", "no such day"},
		{"29 February of a common year", "found", `{"earliest":"2025-02-29T10:00"}`, intake.DateDoubt, "/earliest", "no such day"},
		{"29 February of a leap year", "found", `{"earliest":"2024-02-29T10:00"}`, "", "", ""},
		{"a date in figures", "found", `{"earliest":"3/10/25"}`, intake.DateDoubt, "/earliest", "not written as"},
		{"an end before its beginning", "found", `{"earliest":"2025-10-02T10:00","latest":"2025-10-01T10:00"}`, intake.DateDoubt, "/latest", "before the earliest"},
		{"an offset in words", "found", `{"earliest":"2025-10-02T10:00","zone":"EDT"}`, intake.BadValue, "/zone", "offset"},
		{"a freezer date on 31 February", "frozen", `{"at":{"earliest":"2025-02-31T10:00"}}`, intake.DateDoubt, "/at/earliest", "no such day"},
		{"a word of the vocabulary", "deed", `"taken"`, "", "", ""},
		{"a word that is not", "deed", `"eaten"`, intake.UnknownWord, "", "eaten"},
		{"an object where a text belongs", "locality", `{"a":1}`, intake.BadValue, "", "form"},
		{"null where a text belongs", "locality", `null`, intake.BadValue, "", "form"},
		{"a member of a later release", "taxon", `{"name":"Gavia immer","plumage":"basic"}`, intake.UnknownField, "/plumage", "kept as it is"},
		{"a degree of certainty there is not", "taxon", `{"certainty":"maybe"}`, intake.UnknownWord, "/certainty", "maybe"},
		{"no animal", "count", `0`, intake.BadValue, "", "one or more"},
		{"half an animal", "count", `1.5`, intake.BadValue, "", "one or more"},
		{"three animals", "count", `3`, "", "", ""},
		{"decay 5", "condition", `{"decay":5}`, intake.BadValue, "/decay", "0"},
		{"decay 0, which is a value", "condition", `{"decay":0}`, "", "", ""},
		{"an answer neither yes nor no", "signs", `{"crime":"perhaps"}`, intake.UnknownWord, "/crime", "perhaps"},
		{"a cause there is not", "cause", `{"cause":"boredom"}`, intake.UnknownWord, "/cause", "boredom"},
		{"a photo that is text", "photos", `{"sha256":"` + strings.Repeat("a", 64) + `","size":10,"type":"text/plain"}`, intake.PhotoBad, "/type", "JPEG"},
		{"a photo without a name", "photos", `{"sha256":"","size":10,"type":"image/png"}`, intake.PhotoBad, "/sha256", "SHA-256"},
		{"an animal that is no id", "animals", `"loon"`, intake.BadValue, "", "id"},
	} {
		f, ok := record.FieldOf(record.Report, c.field)
		if !ok {
			t.Fatalf("%s: there is no field %s", c.name, c.field)
		}
		v, err := op.Canonical([]byte(c.value))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		got := intake.Shape(f, op.Value(v), intake.Moment{Received: received})
		switch {
		case c.code == "" && len(got) == 0:
		case c.code == "" || len(got) == 0:
			t.Errorf("%s: got %+v, want code %q", c.name, got, c.code)
		case got[0].Code != c.code || got[0].At != c.at || !strings.Contains(got[0].Why, c.why):
			t.Errorf("%s: got %s at %q: %s; want %s at %q with %q", c.name, got[0].Code, got[0].At, got[0].Why, c.code, c.at, c.why)
		}
	}
}

func day(text string) record.When {
	return record.When{Earliest: text + "T00:00", Latest: text + "T23:59", Precision: record.ToDay}
}

func TestDatesThatDoNotFollow(t *testing.T) {
	reported := time.Date(2025, 10, 5, 18, 0, 0, 0, time.FixedZone("", -4*3600))
	for _, c := range []struct {
		name    string
		dates   intake.Dates
		field   string // of the one doubt, "" for none
		why     string
		suggest string // the earliest moment suggested
	}{
		{"found, frozen and reported in order", intake.Dates{Found: day("2025-10-03"), Frozen: day("2025-10-03"), Reported: reported}, "", "", ""},
		{"frozen the day before it was found", intake.Dates{Found: day("2025-10-04"), Frozen: day("2025-10-03"), Reported: reported}, "frozen", "before it was found", ""},
		{"died after it was found", intake.Dates{Died: day("2025-10-05"), Found: day("2025-10-04"), Reported: reported}, "died", "after it was found", ""},
		{"picked up before it was found", intake.Dates{TakenAt: day("2025-10-01"), Found: day("2025-10-04"), Reported: reported}, "taken_at", "before it was found", ""},
		{"4 October written as 10 April", intake.Dates{Found: day("2025-04-10"), Reported: reported}, "found", "4 Oct 2025, it fits", "2025-10-04T00:00"},
		{"4 October written as 10 April and frozen the same day", intake.Dates{Found: day("2025-04-10"), Frozen: day("2025-10-04"), Reported: reported}, "found", "177 days before it was frozen", "2025-10-04T00:00"},
		{"a find of spring reported in autumn that exchanged would lie ahead", intake.Dates{Found: day("2025-03-11"), Reported: reported}, "", "", ""},
		{"a find of spring that exchanged fits no better", intake.Dates{Found: day("2025-04-08"), Reported: reported}, "", "", ""},
		{"a find of the 20th, which is no month", intake.Dates{Found: day("2025-04-20"), Reported: reported}, "", "", ""},
		{"found unknown", intake.Dates{Frozen: day("2025-10-03"), Reported: reported}, "", "", ""},
	} {
		got := intake.Follow(c.dates)
		if c.field == "" {
			if len(got) != 0 {
				t.Errorf("%s: got %s: %s, want no doubt", c.name, got[0].Field, got[0].Why)
			}
			continue
		}
		if len(got) != 1 || got[0].Field != c.field || !strings.Contains(got[0].Why, c.why) {
			t.Errorf("%s: got %+v, want one doubt of %s with %q", c.name, got, c.field, c.why)
			continue
		}
		var meant record.When
		if c.suggest != "" && (got[0].Suggest.Into(&meant) != nil || meant.Earliest != c.suggest) {
			t.Errorf("%s: got the suggestion %s, want %s", c.name, got[0].Suggest, c.suggest)
		}
	}
}

func FuzzShapeNeverFails(f *testing.F) {
	f.Add("place", `{"known":true,"lat":91,"lon":0}`)
	f.Add("found", `{"earliest":"2025-02-31T10:00"}`)
	f.Add("signs", `[]`)
	f.Fuzz(func(t *testing.T, field, text string) {
		v, err := op.Canonical([]byte(text))
		if err != nil {
			return
		}
		for _, fd := range record.Fields {
			for _, d := range intake.Shape(fd, op.Value(v), intake.Moment{Received: received}) {
				if d.Why == "" || d.Code == "" || d.Field != fd.Name {
					t.Errorf("%s of %s: a doubt without a code, a sentence or a field: %+v", fd.Name, v, d)
				}
			}
		}
	})
}
