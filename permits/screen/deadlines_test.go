package screen_test

import (
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// local are due times as the clock and the working days of the place run: the
// nights of the change of the clock, weekends and holidays among them.
var local = []struct {
	name  string
	where string
	taxon string
	at    string
	code  string
	want  string
}{
	{"48 hours over the night on which Michigan puts the clock back", "US-MI", "Piping Plover", "2025-11-01T14:00", "NOTIFY_FEDERAL", "2025-11-03T13:00"},
	{"48 hours over the night on which Michigan puts the clock on", "US-MI", "Piping Plover", "2025-03-08T14:00", "NOTIFY_FEDERAL", "2025-03-10T15:00"},
	{"48 hours in June", "US-MI", "Piping Plover", "2025-06-12T14:05", "NOTIFY_FEDERAL", "2025-06-14T14:05"},
	{"two business days over Thanksgiving, which 48 hours are not", "US-CA", "Western Snowy Plover", "2025-11-26T09:00", "NOTIFY_STATE", "2025-12-01"},
	{"48 hours over Thanksgiving", "US-CA", "Western Snowy Plover", "2025-11-26T09:00", "NOTIFY_FEDERAL", "2025-11-28T09:00"},
	{"two business days over 31 March, which is a holiday in California", "US-CA", "Western Snowy Plover", "2025-03-28", "NOTIFY_STATE", "2025-04-02"},
	{"24 hours over the night on which the clock is put back", "US-ZR", "Fox Squirrel", "2025-11-01T20:00", "STATE_ROADKILL_REPORT", "2025-11-02T20:00"},
}

func TestDutiesFallDueByTheClockOfThePlace(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = loons(0)
	for _, c := range local {
		at, err := permits.ParseMoment(c.at)
		if err != nil {
			t.Fatal(err)
		}
		f := owl(func(f *screen.Facts) {
			f.Jurisdictions, f.Taxon, f.JudgedAt = []string{c.where}, c.taxon, at
			f.Found, f.Possessed = permits.When{From: at, To: at}, permits.When{From: at, To: at}
		})
		v := screen.Check(&f, w)
		got := "no such duty"
		for _, o := range v.Obligations {
			if o.Code == c.code {
				got = o.Due.At.String()
			}
		}
		if got != c.want {
			t.Errorf("%s: got %s due %s, want %s; %s by %s", c.name, c.code, got, c.want, v.Outcome, v.Deciding.Rule)
		}
	}
}
