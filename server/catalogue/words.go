package catalogue

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"wayfall/permits"
	"wayfall/sync/record"
)

var monthNames = [...]string{"", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// DayText writes "2025-10-18" as "18 Oct 2025" and the shorter "2025-10" and
// "2025" likewise. What is not such a date comes back unchanged.
func DayText(iso string) string {
	parts := strings.Split(iso, "-")
	if len(parts) > 3 || len(parts[0]) != 4 {
		return iso
	}
	for _, p := range parts {
		if _, err := strconv.ParseUint(p, 10, 16); err != nil {
			return iso
		}
	}
	if len(parts) == 1 {
		return iso
	}
	m, _ := strconv.Atoi(parts[1])
	if m < 1 || m > 12 {
		return iso
	}
	if len(parts) == 2 {
		return monthNames[m] + " " + parts[0]
	}
	d, _ := strconv.Atoi(parts[2])
	return strconv.Itoa(d) + " " + monthNames[m] + " " + parts[0]
}

// LocalText writes a civil time "2025-10-18T07:40" as "18 Oct 2025, 07:40" and
// a bare date as DayText does.
func LocalText(local string) string {
	day, clock, has := strings.Cut(local, "T")
	if !has {
		return DayText(day)
	}
	if len(clock) > 5 {
		clock = clock[:5]
	}
	return DayText(day) + ", " + clock
}

// WhenText writes a moment as finely as it is known.
func WhenText(w record.When) string {
	if w.Earliest == "" {
		if w.Text != "" {
			return "“" + w.Text + "”"
		}
		return "not known"
	}
	from, _, _ := strings.Cut(w.Earliest, "T")
	to, _, _ := strings.Cut(w.Latest, "T")
	switch w.Precision {
	case record.ToMinute:
		return LocalText(w.Earliest)
	case record.ToMonth:
		return DayText(from[:min(7, len(from))])
	case record.ToYear:
		return from[:min(4, len(from))]
	case record.Between:
		return DayText(from) + " to " + DayText(to)
	}
	if to != "" && to != from {
		return DayText(from) + " to " + DayText(to)
	}
	return DayText(from)
}

// Label returns what a person reads for a coded word, or the word itself.
func Label(kind record.Kind, field, code string) string {
	return labelIn(record.Vocabulary(kind, field), code)
}

func labelIn(words []record.Word, code string) string {
	for _, w := range words {
		if w.Code == code {
			return w.Label
		}
	}
	return strings.ReplaceAll(code, "_", " ")
}

// PlaceText writes coordinates with no more digits than the radius bears out,
// and the radius beside them.
func PlaceText(g record.Georeference) string {
	if !g.Known {
		return "no coordinates"
	}
	digits := 5
	if g.Radius >= 1 {
		// One unit of the last digit stays at or below a tenth of the radius:
		// a degree of latitude is about 111 km.
		digits = min(5, max(2, int(math.Ceil(6-math.Log10(g.Radius)))))
	}
	north, east := "N", "E"
	if g.Lat < 0 {
		north = "S"
	}
	if g.Lon < 0 {
		east = "W"
	}
	text := fmt.Sprintf("%.*f° %s, %.*f° %s", digits, math.Abs(g.Lat), north, digits, math.Abs(g.Lon), east)
	if g.Radius > 0 {
		text += " ±" + Metres(g.Radius)
	}
	return text
}

// Metres writes a distance with its unit, in two or three figures.
func Metres(m float64) string {
	switch {
	case m < 10:
		return strconv.FormatFloat(m, 'f', 1, 64) + " m"
	case m < 1000:
		return strconv.FormatFloat(math.Round(m), 'f', 0, 64) + " m"
	case m < 10000:
		return strconv.FormatFloat(m/1000, 'f', 1, 64) + " km"
	}
	return strconv.FormatFloat(math.Round(m/1000), 'f', 0, 64) + " km"
}

// TaxonText writes what somebody thinks the animal is.
func TaxonText(d record.Determination) string {
	name := d.Written
	if name == "" {
		name = d.Name
	}
	if name == "" {
		return "not identified"
	}
	if d.Name != "" && !strings.EqualFold(d.Name, name) {
		name += " (" + d.Name + ")"
	}
	switch d.Certainty {
	case record.Likely:
		name += ", likely"
	case record.Guess:
		name += ", a guess"
	}
	return name
}

// ValueText writes any value of a field as a person reads it. A value that
// does not have the field's shape is shown as it stands.
func ValueText(f record.Field, raw json.RawMessage) string {
	if write := writers[f.Shape]; write != nil {
		if text, ok := write(f, raw); ok {
			return text
		}
	}
	return string(raw)
}

// shaped reports whether a value has the form of the field.
func shaped(f record.Field, raw json.RawMessage) bool {
	write := writers[f.Shape]
	if write == nil {
		return json.Valid(raw)
	}
	_, ok := write(f, raw)
	return ok
}

var writers = map[record.Shape]func(f record.Field, raw json.RawMessage) (string, bool){
	record.Text: reading(func(f record.Field, v string) string {
		if f.Name == "tags" {
			return spell(v)
		}
		return v
	}),
	record.Link:   reading(func(_ record.Field, v string) string { return v }),
	record.Code:   reading(func(f record.Field, v string) string { return Label(f.Kind, f.Name, v) }),
	record.Number: reading(func(_ record.Field, v json.Number) string { return v.String() }),
	record.WhenV:  reading(func(_ record.Field, v record.When) string { return WhenText(v) }),
	record.FixV: reading(func(_ record.Field, v record.Fix) string {
		return PlaceText(record.Georeference{Known: true, Lat: v.Lat, Lon: v.Lon, Radius: v.Accuracy})
	}),
	record.PlaceV:  reading(func(_ record.Field, v record.Georeference) string { return PlaceText(v) }),
	record.TaxonV:  reading(func(_ record.Field, v record.Determination) string { return TaxonText(v) }),
	record.CauseV:  reading(causeText),
	record.StateV:  reading(conditionText),
	record.LandV:   reading(landText),
	record.SignsV:  reading(signsText),
	record.PersonV: reading(func(_ record.Field, v record.Person) string { return join(", ", v.Name, v.Contact) }),
	record.PhotoV:  reading(func(_ record.Field, v record.Photo) string { return join(", ", "photo", v.Caption) }),
	record.FreezeV: reading(func(_ record.Field, v record.Freeze) string { return join(", ", WhenText(v.At), v.Where) }),
	record.RemarkV: reading(func(_ record.Field, v record.Remark) string { return v.Text }),
	record.DutyV:   reading(func(_ record.Field, v record.DutyDone) string { return join(", ", DutyText(v.Code), noteText(v)) }),
	record.DocV: func(f record.Field, raw json.RawMessage) (string, bool) {
		if f.Name != "decisions" {
			return string(raw), json.Valid(raw)
		}
		var d permits.Decision
		ok := json.Unmarshal(raw, &d) == nil && d.Missing() == ""
		return decidedText(d), ok
	},
	record.WithdrawV: reading(func(_ record.Field, v record.Withdrawn) string { return v.Reason }),
	record.CustodyV: reading(func(_ record.Field, v record.Custody) string {
		text := "to " + v.To
		if v.From != "" {
			text = "from " + v.From + " " + text
		}
		return join(", ", text, WhenText(v.At), v.Place, called("seal", v.Seal), called("signed by", v.Signed), v.Condition, v.Note)
	}),
	record.BagV: reading(func(_ record.Field, v record.Bag) string { return join(", ", v.Tag, v.Written, v.Taxon) }),
}

func reading[T any](write func(record.Field, T) string) func(record.Field, json.RawMessage) (string, bool) {
	return func(f record.Field, raw json.RawMessage) (string, bool) {
		var v T
		if err := json.Unmarshal(raw, &v); err != nil {
			return "", false
		}
		return write(f, v), true
	}
}

func causeText(_ record.Field, v record.Cause) string {
	text := labelIn(record.Causes, v.Cause)
	if v.Basis != "" {
		text = join(", ", text, strings.ToLower(labelIn(record.Bases, v.Basis)))
	}
	if v.Certainty != "" {
		text = join(", ", text, string(v.Certainty))
	}
	return text
}

// decays are the steps of decay; the scale of beach surveys, in our words.
var decays = [...]string{"just died", "fresh", "going off", "rotten", "dried out"}

func conditionText(_ record.Field, v record.Condition) string {
	var parts []string
	if v.Decay != nil && *v.Decay >= 0 && *v.Decay < len(decays) {
		parts = append(parts, fmt.Sprintf("decay %d of 4 (%s)", *v.Decay, decays[*v.Decay]))
	}
	if v.Gone != "" {
		parts = append(parts, "gone: "+v.Gone)
	}
	if v.Wet {
		parts = append(parts, "wet")
	}
	return join(", ", parts...)
}

func landText(_ record.Field, v record.Land) string {
	text := join(", ", labelIn(record.Permissions, v.Permission), labelIn(record.Managers, v.Manager), v.By)
	if v.Written {
		text += ", in writing"
	}
	return text
}

func signsText(_ record.Field, v record.Signs) string {
	var parts []string
	for _, s := range []struct{ what, said string }{
		{"signs of a crime", v.Crime}, {"caused by the salvager", v.Caused}, {"planned search", v.Planned},
		{"for research", v.Research}, {"finder wants to keep it", v.Keep}, {"permit copy at hand", v.PermitCopy},
		{"danger at the spot", v.Danger}, {"already in the hand", v.InHand},
		{"other dead animals nearby", v.Others},
	} {
		if s.said != "" {
			parts = append(parts, s.what+": "+s.said)
		}
	}
	if v.OthersNearby > 0 {
		parts = append(parts, fmt.Sprintf("%d others nearby", v.OthersNearby))
	}
	return join("; ", parts...)
}

// DutyText says what a duty asks, in plain words.
func DutyText(code string) string {
	if text := permits.DutyText(code); text != "" {
		return text
	}
	plain := strings.ToLower(strings.ReplaceAll(code, "_", " "))
	if plain == "" {
		return "a duty without a name"
	}
	return strings.ToUpper(plain[:1]) + plain[1:]
}

func join(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}

// StateText writes a code of ISO 3166-2 for a state of the United States as
// its name; anything else comes back unchanged.
func StateText(code string) string {
	short, us := strings.CutPrefix(code, "US-")
	if at := strings.Index(states, " "+short+"="); us && len(short) == 2 && at >= 0 {
		name, _, _ := strings.Cut(states[at+4:], ";")
		return name
	}
	return code
}

// states are the codes and names of ISO 3166-2:US.
const states = " AL=Alabama; AK=Alaska; AZ=Arizona; AR=Arkansas; CA=California; CO=Colorado; CT=Connecticut; DE=Delaware; DC=District of Columbia;" +
	" FL=Florida; GA=Georgia; HI=Hawaii; ID=Idaho; IL=Illinois; IN=Indiana; IA=Iowa; KS=Kansas; KY=Kentucky; LA=Louisiana; ME=Maine; MD=Maryland;" +
	" MA=Massachusetts; MI=Michigan; MN=Minnesota; MS=Mississippi; MO=Missouri; MT=Montana; NE=Nebraska; NV=Nevada; NH=New Hampshire; NJ=New Jersey;" +
	" NM=New Mexico; NY=New York; NC=North Carolina; ND=North Dakota; OH=Ohio; OK=Oklahoma; OR=Oregon; PA=Pennsylvania; RI=Rhode Island;" +
	" SC=South Carolina; SD=South Dakota; TN=Tennessee; TX=Texas; UT=Utah; VT=Vermont; VA=Virginia; WA=Washington; WV=West Virginia; WI=Wisconsin;" +
	" WY=Wyoming; PR=Puerto Rico; GU=Guam; VI=Virgin Islands;"

// called puts a word before what it names, "" before nothing.
func called(word, name string) string {
	if name == "" {
		return ""
	}
	return word + " " + name
}
