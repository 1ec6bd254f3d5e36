package intake

import (
	"fmt"
	"strings"
	"time"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// civil is how local times are written in a When.
const civil = "2006-01-02T15:04"

// ahead is how far a device's clock may run in front of ours before a time
// counts as being in the future. Our choice.
const ahead = 15 * time.Minute

func (s *shaper) when(at string, w record.When) {
	from, okFrom := s.moment.read(s, at+"/earliest", w.Earliest)
	to, okTo := s.moment.read(s, at+"/latest", w.Latest)
	if okFrom && okTo && to.Before(from) {
		s.say(DateDoubt, at+"/latest", "the latest moment lies before the earliest")
	}
	if _, err := zoneOf(w.Zone); err != nil {
		s.say(BadValue, at+"/zone", "%q is not an offset from UTC such as -04:00", w.Zone)
	} else if okFrom && s.moment.future(from, w.Zone) {
		s.say(DateDoubt, at+"/earliest", "%s lies in the future", Day(from))
	}
	switch w.Precision {
	case "", record.ToMinute, record.ToDay, record.ToMonth, record.ToYear, record.Between:
	default:
		s.say(UnknownWord, at+"/precision", "%q does not say how finely a time is known", w.Precision)
	}
}

// read reads a local time and notes one that is none.
func (Moment) read(s *shaper, at, text string) (time.Time, bool) {
	if text == "" {
		return time.Time{}, false
	}
	t, err := time.Parse(civil, text)
	if err == nil {
		return t, true
	}
	if day, _, _ := strings.Cut(text, "T"); len(day) == 10 && strings.Contains(err.Error(), "out of range") {
		s.say(DateDoubt, at, "there is no such day or hour as %q", text)
	} else {
		s.say(DateDoubt, at, "%q is not written as a year, month, day, hour and minute, such as 2025-10-03T14:20", text)
	}
	return time.Time{}, false
}

// future reports whether a local time has not come yet anywhere it could be
// meant: where the zone is not known, the easternmost counts.
func (m Moment) future(local time.Time, zone string) bool {
	if m.Received.IsZero() {
		return false
	}
	offset, _ := zoneOf(zone)
	if zone == "" {
		offset = 14 * time.Hour
	}
	return local.Add(-offset).After(m.Received.Add(ahead))
}

// zoneOf reads "-04:00"; an empty zone is no offset.
func zoneOf(zone string) (time.Duration, error) {
	if zone == "" || zone == "Z" {
		return 0, nil
	}
	t, err := time.Parse("-07:00", zone)
	if err != nil {
		return 0, err
	}
	_, seconds := t.Zone()
	return time.Duration(seconds) * time.Second, nil
}

// Day writes a date so that day and month cannot be mixed up.
func Day(t time.Time) string { return t.Format("2 Jan 2006") }

// Dates are the moments in one report that must follow one another.
type Dates struct {
	Died, Found, TakenAt record.When
	Frozen               record.When
	Reported             time.Time // when the device saved it, in its own zone
}

// Plausible gaps in days, our choice: a report is usually made, or a carcass
// frozen, within soon days of the find; a find late days before is unusual.
const (
	soon = 7
	late = 21
)

// Follow says which dates of a report cannot follow one another, and whether
// a day and a month may have changed places.
func Follow(d Dates) []Doubt {
	var out []Doubt
	say := func(field, at, format string, args ...any) {
		out = append(out, Doubt{Code: DateDoubt, Kind: record.Report, Field: field, At: at, Why: fmt.Sprintf(format, args...)})
	}
	found, okFound := span(d.Found)
	frozen, okFrozen := span(d.Frozen)
	died, okDied := span(d.Died)
	taken, okTaken := span(d.TakenAt)
	if okFound {
		if swap := swapped(d, found, frozen, okFrozen); swap != nil {
			return []Doubt{*swap} // it explains whatever else does not follow
		}
	}
	if okFound && okFrozen && frozen.to.Before(found.from) {
		say("frozen", "/at", "frozen on %s, before it was found on %s", Day(frozen.to), Day(found.from))
	}
	if okDied && okFound && died.from.After(found.to) {
		say("died", "", "said to have died on %s, after it was found on %s", Day(died.from), Day(found.to))
	}
	if okTaken && okFound && taken.to.Before(found.from) {
		say("taken_at", "", "picked up on %s, before it was found on %s", Day(taken.to), Day(found.from))
	}
	return out
}

type bounds struct{ from, to time.Time }

// span returns the bounds of a When in local time.
func span(w record.When) (bounds, bool) {
	from, err := time.Parse(civil, w.Earliest)
	if err != nil {
		return bounds{}, false
	}
	to, err := time.Parse(civil, w.Latest)
	if err != nil || to.Before(from) {
		to = from
		if w.Precision == record.ToDay {
			to = from.Truncate(24 * time.Hour).Add(24*time.Hour - time.Minute)
		}
	}
	return bounds{from, to}, true
}

// exchange returns t with its day and its month exchanged, if that is a date
// and another one.
func exchange(t time.Time) (time.Time, bool) {
	if t.Day() > 12 || t.Day() == int(t.Month()) {
		return t, false
	}
	return time.Date(t.Year(), time.Month(t.Day()), int(t.Month()), t.Hour(), t.Minute(), 0, 0, time.UTC), true
}

// swapped suggests the find's day and month exchanged when the date as written
// does not fit what followed it and the exchanged one does.
func swapped(d Dates, found, frozen bounds, okFrozen bool) *Doubt {
	if d.Reported.IsZero() || d.Found.Precision == record.ToMonth || d.Found.Precision == record.ToYear {
		return nil
	}
	reported := time.Date(d.Reported.Year(), d.Reported.Month(), d.Reported.Day(), 23, 59, 0, 0, time.UTC)
	next, what := reported, "reported"
	if okFrozen && !frozen.to.After(reported) {
		next, what = frozen.to, "frozen"
	}
	other, ok := exchange(found.from)
	gap, otherGap := days(found.from, next), days(other, next)
	if !ok || gap >= 0 && gap <= late || otherGap < 0 || otherGap > soon || other.After(reported) {
		return nil
	}
	because := fmt.Sprintf("found on %s would be %d days before it was %s on %s", Day(found.from), gap, what, Day(next))
	if gap < 0 {
		because = fmt.Sprintf("found on %s would be after it was %s on %s", Day(found.from), what, Day(next))
	}
	doubt := &Doubt{Code: DateDoubt, Kind: record.Report, Field: "found",
		Why: because + fmt.Sprintf("; with day and month exchanged, %s, it fits", Day(other))}
	meant := d.Found
	meant.Earliest, meant.Latest = other.Format(civil), ""
	if to, ok := exchange(found.to); ok && d.Found.Latest != "" {
		meant.Latest = to.Format(civil)
	}
	meant.Basis = "day and month exchanged"
	doubt.Suggest, _ = op.ValueOf(meant)
	return doubt
}

func days(from, to time.Time) int {
	from, to = from.Truncate(24*time.Hour), to.Truncate(24*time.Hour)
	return int(to.Sub(from) / (24 * time.Hour))
}
