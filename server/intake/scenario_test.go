package intake_test

import (
	"testing"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/geo"
	"wayfall/server/intake"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// sightings reads the story as the reports put it; the truth is not looked at.
func sightings(t *testing.T, s scenario.Story) ([]intake.Sighting, map[op.ID]string) {
	var out []intake.Sighting
	key := map[op.ID]string{}
	for n, r := range s.Reports {
		report := op.ID{byte(n), byte(n >> 8), 1}
		key[report] = r.Key
		for i := range max(1, r.Count) {
			sight := intake.Sighting{Report: report, Animal: op.ID{byte(n), byte(n >> 8), 2, byte(i)},
				Reporter: r.Reporter, Device: r.Device, Taxon: r.Taxon.Scientific, Deed: r.Deed,
				Decay: r.Condition, Band: r.Band}
			if r.Circumstance == "on or beside a road" {
				sight.Circumstance = "road"
			}
			sight.Found, sight.Until = foundOf(t, r.Found)
			if f := r.Place.Fix; f != nil {
				if p, err := geo.At(geo.Degrees(f.Lat), geo.Degrees(f.Lon)); err == nil {
					sight.Where = geo.Circle{Centre: p, Radius: geo.Metres(*r.Place.Accuracy)}
				}
			}
			out = append(out, sight)
		}
	}
	return out, key
}

func foundOf(t *testing.T, f scenario.Found) (from, until time.Time) {
	clock := f.Time
	if clock == "" {
		clock = "00:00"
	}
	if f.Date == "" {
		return
	}
	if f.Offset == "" {
		f.Offset = "-05:00" // the day is all that was said
	}
	from, err := time.Parse("2006-01-02T15:04-07:00", f.Date+"T"+clock+f.Offset)
	if err != nil {
		t.Fatal(err)
	}
	if f.Precision == "day" {
		return from, from.Add(24*time.Hour - time.Minute)
	}
	return from, from
}

func TestExactlyThePlantedPairsAreProposed(t *testing.T) {
	for seed := range uint64(8) {
		story := scenario.Build(seed)
		want := map[[2]string]bool{}
		for _, f := range story.Faults {
			if f.Key == "same-carcass" {
				for _, g := range f.Groups {
					want[[2]string{g[0], g[1]}] = true
				}
			}
		}
		if len(want) != 6 {
			t.Fatalf("seed %d: the story has %d pairs, want 6", seed, len(want))
		}
		all, key := sightings(t, story)
		for _, p := range intake.Pairs(all) {
			got := [2]string{key[p.A.Report], key[p.B.Report]}
			if !want[got] {
				t.Errorf("seed %d: proposed %v, which is no pair: %s", seed, got, parts(p))
			}
			delete(want, got)
		}
		for missed := range want {
			t.Errorf("seed %d: missed %v", seed, missed)
		}
	}
}

func whenOf(day, clock, precision string) record.When {
	switch {
	case day == "":
		return record.When{}
	case precision == "minute":
		return record.When{Earliest: day + "T" + clock, Latest: day + "T" + clock, Precision: record.ToMinute}
	}
	return record.When{Earliest: day + "T00:00", Latest: day + "T23:59", Precision: record.ToDay}
}

func instant(t *testing.T, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}
