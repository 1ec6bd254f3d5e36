package permits

import "strings"

// Traits are what a number may ask of an animal beside its kind and its
// material. Every empty member is unknown, and so is a cause that is said to be
// unknown.
type Traits struct {
	Sex      string `json:"sex,omitempty"`      // a word of Sexes
	Age      string `json:"age,omitempty"`      // a word of Ages
	Cause    string `json:"cause,omitempty"`    // what killed it
	Acquired string `json:"acquired,omitempty"` // a word of Acquisitions
}

// The words by which numbers and papers ask for sex, for age and for how an
// animal was come by. An animal is one of each list, so what holds for every
// word of one holds whatever the animal is.
var (
	Sexes        = []string{"female", "male"}
	Ages         = []string{"adult", "immature", "juvenile", "nestling"}
	Acquisitions = []string{FoundDead, DiedInCare, Received, Killed}
)

// How an animal was come by.
const (
	FoundDead  = "found_dead"
	DiedInCare = "died_in_care"
	Received   = "received" // from an agency or another institution
	Killed     = "taken"    // killed for it, or by the one who took it
)

// The stages at which an animal begins to count against a number.
const (
	AtFind    = "found"     // when it is found, though it stays where it lies
	AtPickUp  = "possessed" // when somebody takes it into the hand
	AtDeposit = "deposited" // when the institution receives it
)

// Stages are the words for when a number counts.
var Stages = []string{AtFind, AtPickUp, AtDeposit}

// SexOf reads a sex as a person writes it. Anything but a plain word for one
// is unknown: a sex with a question mark is not known.
func SexOf(text string) string {
	switch fold(text) {
	case "female", "f", "♀":
		return "female"
	case "male", "m", "♂":
		return "male"
	}
	return ""
}

// AgeOf reads an age class as a person writes it; what is not plainly one of
// the classes is unknown.
func AgeOf(text string) string {
	switch fold(text) {
	case "adult", "after hatch year", "ahy":
		return "adult"
	case "immature", "subadult":
		return "immature"
	case "juvenile", "fledgling":
		return "juvenile"
	case "nestling", "chick", "downy young":
		return "nestling"
	}
	return ""
}

// TraitsOf returns what every one of the animals surely is: a trait on which
// two differ is unknown.
func TraitsOf(all ...Traits) Traits {
	if len(all) == 0 {
		return Traits{}
	}
	out := all[0]
	for _, t := range all[1:] {
		for _, pair := range [...]struct {
			to  *string
			and string
		}{{&out.Sex, t.Sex}, {&out.Age, t.Age}, {&out.Cause, t.Cause}, {&out.Acquired, t.Acquired}} {
			if *pair.to != pair.and {
				*pair.to = ""
			}
		}
	}
	return out
}

// Narrow tells whether the number asks for a trait.
func (q *Quota) Narrow() bool {
	return len(q.Sexes)+len(q.Ages)+len(q.Causes)+len(q.ExemptCauses)+len(q.Acquired) > 0
}

// AsksTraits tells whether the paper asks for the sex or the age of an animal,
// or how it was come by.
func (a *Authority) AsksTraits() bool {
	for i := range a.Quotas {
		if q := &a.Quotas[i]; len(q.Sexes)+len(q.Ages)+len(q.Acquired) > 0 {
			return true
		}
	}
	return len(a.Acquired) > 0 || a.CoverCare == No
}

// Concerns tells whether an animal of the material and traits belongs to the
// number, whatever its kind: Unknown where something it asks for is not known,
// and then the animal counts, because it may belong.
func (q *Quota) Concerns(material string, t *Traits) Answer {
	if len(q.Units) == 0 && !q.Narrow() {
		return Yes
	}
	out := Yes
	for _, a := range q.asks(material, t) {
		switch a.answer() {
		case No:
			return No
		case Unknown:
			out = Unknown
		}
	}
	return out
}

// Open names the traits that keep it from being told whether an animal belongs
// to the number.
func (q *Quota) Open(material string, t *Traits) []string {
	var out []string
	for _, a := range q.asks(material, t) {
		if a.answer() == Unknown && !contains(out, a.fact) {
			out = append(out, a.fact)
		}
	}
	return out
}

// asking is one question of a number: whether a word stands on a list.
type asking struct {
	fact, word string
	in, out    []string
}

func (q *Quota) asks(material string, t *Traits) [5]asking {
	cause := t.Cause
	if cause == "unknown" {
		cause = ""
	}
	return [5]asking{{"material", material, q.Units, nil}, {"sex", t.Sex, q.Sexes, nil}, {"age", t.Age, q.Ages, nil},
		{"cause", cause, q.Causes, q.ExemptCauses}, {"acquired", t.Acquired, q.Acquired, nil}}
}

func (a *asking) answer() Answer {
	switch {
	case len(a.in)+len(a.out) == 0:
		return Yes
	case a.word == "":
		return Unknown
	}
	return AnswerOf((len(a.in) == 0 || contains(a.in, a.word)) && !contains(a.out, a.word))
}

// Exempts tells whether the number leaves the kind out.
func (q *Quota) Exempts(t *Taxon) bool { return len(q.ExemptTaxa) > 0 && t.isAny(q.ExemptTaxa) }

// WarnsFrom returns the count from which the number warns, the lower of what it
// states as a count and as a share of its ceiling; 0 is never.
func (q *Quota) WarnsFrom() int {
	from := q.WarnAt
	if q.WarnPercent > 0 && !q.Unlimited {
		if share := max(1, (q.Limit*q.WarnPercent+99)/100); from == 0 || share < from {
			from = share
		}
	}
	return from
}

// Season is a part of every year, both days included. It may run over the end
// of a year.
type Season struct {
	From MonthDay `json:"from"`
	To   MonthDay `json:"to"`
}

// Around returns the first and the last day of the season that holds the day;
// unknown days where none does.
func (s *Season) Around(on Date) (from, to Date) {
	if s == nil || s.From == 0 || s.To == 0 || !on.Known() {
		return 0, 0
	}
	for year := on.Year() - 1; year <= on.Year(); year++ {
		from, to = s.From.In(year), s.To.In(year)
		if to < from {
			to = s.To.In(year + 1)
		}
		if from <= on && on <= to {
			return from, to
		}
	}
	return 0, 0
}

// Kinds says in words which animals a number counts beside their kind, as in
// "females found dead"; "" where it asks for nothing.
func (q *Quota) Kinds() string {
	var words []string
	for _, list := range [][]string{q.Sexes, q.Ages} {
		var names []string
		for _, w := range list {
			names = append(names, w+"s")
		}
		if len(names) > 0 {
			words = append(words, strings.Join(names, " or "))
		}
	}
	if len(q.Acquired) > 0 {
		var how []string
		for _, w := range q.Acquired {
			how = append(how, worded(acquisitionTexts, w))
		}
		words = append(words, strings.Join(how, " or "))
	}
	var causes, not []string
	for _, c := range q.Causes {
		causes = append(causes, CauseText(c))
	}
	for _, c := range q.ExemptCauses {
		not = append(not, CauseText(c))
	}
	if len(causes) > 0 {
		words = append(words, "killed by "+strings.Join(causes, " or "))
	}
	if len(not) > 0 {
		words = append(words, "not killed by "+strings.Join(not, " or "))
	}
	return strings.Join(words, ", ")
}

// AcquisitionText says how an animal was come by.
func AcquisitionText(code string) string { return worded(acquisitionTexts, code) }

var acquisitionTexts = [][2]string{
	{FoundDead, "found dead"}, {DiedInCare, "died in care"}, {Received, "received from an agency or institution"}, {Killed, "taken alive"},
}

// Faults says what is wrong with what a number asks beside kind and count.
func (q *Quota) Faults() []Wrong {
	var out []Wrong
	for _, l := range []struct {
		path        string
		list, known []string
	}{{"sexes", q.Sexes, Sexes}, {"ages", q.Ages, Ages}, {"acquired", q.Acquired, Acquisitions}} {
		for _, w := range l.list {
			if !contains(l.known, w) {
				out = append(out, Wrong{l.path, "“" + w + "” is none of " + strings.Join(l.known, ", ")})
			}
		}
	}
	for _, c := range q.ExemptCauses {
		if contains(q.Causes, c) {
			out = append(out, Wrong{"exempt_causes", "“" + c + "” is counted and left out"})
		}
	}
	if q.CountsWhen != "" && !contains(Stages, q.CountsWhen) {
		out = append(out, Wrong{"counts_when", "say when it counts: " + strings.Join(Stages, ", ")})
	}
	if q.WarnAt < 0 || q.WarnPercent < 0 || q.WarnPercent > 100 {
		out = append(out, Wrong{"warn_at", "a warning begins at a count, or at 1 to 100 in a hundred of the number"})
	}
	if !q.Unlimited && q.WarnAt > 0 && q.WarnAt > q.Limit {
		out = append(out, Wrong{"warn_at", "the warning begins beyond the number itself"})
	}
	if q.WarnPercent > 0 && q.Unlimited {
		out = append(out, Wrong{"warn_percent", "a number without a ceiling warns at a count, not at a share of it"})
	}
	switch season := q.Season != nil && q.Season.From != 0 && q.Season.To != 0; {
	case q.Window == "season" && !season:
		out = append(out, Wrong{"season", "say from which day of the year to which the season runs"})
	case q.Window != "season" && q.Season != nil:
		out = append(out, Wrong{"season", "a season is stated, but the number does not count by it"})
	}
	switch q.Shared {
	case "", "permit":
	case "person":
		out = append(out, Wrong{"shared", "a number for each person apart is not kept here: give each their own number, or state it for all together"})
	default:
		out = append(out, Wrong{"shared", "a number is shared by the people of its permit; one that several permits share is entered on each and watched by a person"})
	}
	return out
}
