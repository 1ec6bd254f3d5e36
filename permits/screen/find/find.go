// Package find turns a report, as the log keeps it, into the facts that the
// one check judges.
//
// It promises that what a report does not say stays unknown, and that a place
// near a line is offered as every state it may lie in. It judges nothing and
// looks nothing up but the boundary lines it is handed.
package find

import (
	"slices"
	"strings"

	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/sync/record"
)

// Report is what of a report bears on the answer. Missing members are unknown.
type Report struct {
	Found     *record.When          `json:"found"`
	TakenAt   *record.When          `json:"taken_at"`
	Place     *record.Georeference  `json:"place"`
	Taxon     *record.Determination `json:"taxon"`
	Count     int                   `json:"count"`
	Material  string                `json:"material"`
	Condition *record.Condition     `json:"condition"`
	Where     string                `json:"circumstance"`
	Cause     *record.Cause         `json:"cause"`
	Signs     *record.Signs         `json:"signs"`
	Band      string                `json:"band"`
	Land      *record.Land          `json:"land"`
	Authority string                `json:"authority"`
	// Acquired is a word of record.Acquisitions; "" is worked out where it can be.
	Acquired string `json:"acquired"`
}

// Asked says who asks, when, and with which lines on the map.
type Asked struct {
	Person string
	Role   string
	Now    permits.Moment
	Lines  *region.Map // nil: no lines at hand, only what a person said
	// Where is what States gave for the report's place, for who has looked
	// already; nil: Of looks.
	Where *Where
	Land  Ground // drawn units of ground; nil: only what a person said
	// Traits is set where some paper asks for sex, age or how an animal was
	// come by; else the facts do not hold them.
	Traits   bool
	Sex, Age string // as the record of the animal has them
}

// Ground adds to the facts what drawn units of ground say of a circle on the
// days; a *land.Map is one.
type Ground interface {
	Tell(f *screen.Facts, c geo.Circle, on permits.When)
}

// Where is in which state a place lies: surely, or in one of several.
type Where struct{ Sure, Possible []string }

// Of returns the facts of a report about a carcass that may be taken.
func Of(r Report, a Asked) screen.Facts {
	f := screen.Facts{
		Person: a.Person, Role: a.Role, JudgedAt: a.Now, Activity: "salvage",
		Found: when(r.Found), Possessed: when(r.TakenAt),
		Count: r.Count, Material: r.Material, Authority: r.Authority,
	}
	if w := a.Where; w != nil {
		f.Jurisdictions, f.JurisdictionsPossible = w.Sure, w.Possible
	} else {
		f.Jurisdictions, f.JurisdictionsPossible = states(r.Place, a.Lines)
	}
	if r.Place != nil {
		f.Site = r.Place.County
	}
	animal(&f, r)
	death(&f, r)
	signs(&f, r)
	ground(&f, r.Land)
	if a.Traits {
		f.Sex, f.Age, f.Acquired = permits.SexOf(a.Sex), permits.AgeOf(a.Age), Acquired(r)
	}
	if a.Land != nil {
		a.Land.Tell(&f, circle(r.Place), days(&f))
	}
	return f
}

// when reads the bounds of a moment. One that cannot be read is unknown. What
// is known to the day or less finely counts by its days, and a month without
// its end has no bounds.
func when(w *record.When) permits.When {
	if w == nil || w.Earliest == "" {
		return permits.When{}
	}
	latest := w.Latest
	if latest == "" {
		latest = w.Earliest
		if w.Precision != "" && w.Precision != record.ToMinute && w.Precision != record.ToDay {
			return permits.When{}
		}
	}
	from, err := permits.ParseMoment(w.Earliest)
	to, err2 := permits.ParseMoment(latest)
	if err != nil || err2 != nil {
		return permits.When{}
	}
	if w.Precision == record.ToDay || w.Precision == record.ToMonth || w.Precision == record.ToYear {
		from, to = permits.Moment{Date: from.Date}, permits.Moment{Date: to.Date}
	}
	return permits.When{From: from, To: to}
}

// unstated stands for the radius of a place that came without one; our own
// choice. Such a place is never surely in a state.
const unstated = 10 * geo.Kilometre

func states(p *record.Georeference, lines *region.Map) (sure, possible []string) {
	if lines == nil {
		return States(p, nil)
	}
	return States(p, lines.Locate)
}

// States returns the state in which the whole circle lies, or all in which it
// may. Without coordinates, what a person said counts; where a person named
// another state than the lines give, both may be. locate looks a circle up on
// the lines; nil has none.
func States(p *record.Georeference, locate func(geo.Circle) []region.Hit) (sure, possible []string) {
	if p == nil {
		return nil, nil
	}
	said := codeOf(p.State)
	if !p.Known || locate == nil {
		if said != "" {
			return []string{said}, nil
		}
		return nil, nil
	}
	c := circle(p)
	if !c.Known() {
		return nil, nil
	}
	for _, hit := range locate(c) {
		if hit.Level != region.State {
			continue
		}
		code := Code(hit.ID)
		if hit.Relation == region.Inside && p.Radius > 0 && (said == "" || said == code) {
			return []string{code}, nil
		}
		possible = append(possible, code)
	}
	if said != "" && len(possible) > 0 && !slices.Contains(possible, said) {
		possible = append(possible, said)
	}
	return nil, possible
}

func animal(f *screen.Facts, r Report) {
	if r.Taxon != nil {
		f.Taxon = r.Taxon.Name
		if f.Taxon == "" {
			f.Taxon = r.Taxon.Written
		}
		if r.Taxon.Certainty != "" {
			f.Identified = permits.AnswerOf(r.Taxon.Certainty == record.Sure)
		}
	}
	switch {
	case r.Band == "":
	case strings.EqualFold(r.Band, "none"):
		f.Band = "none"
	default:
		f.Band = "federal metal band" // a number was read; the strictest kind of mark is assumed
	}
}

func death(f *screen.Facts, r Report) {
	if r.Cause == nil || r.Cause.Cause == "" {
		return
	}
	f.Cause = r.Cause.Cause
	switch r.Cause.Cause {
	case "unknown":
	case "euthanised":
		f.Euthanised = permits.Yes
	default:
		f.Euthanised = permits.No
	}
	switch r.Cause.Cause {
	case "poison":
		f.SuspectedPoison = permits.Yes
	case "shot", "trapped":
		f.SuspectedCrime = permits.Yes
	}
}

func signs(f *screen.Facts, r Report) {
	s := r.Signs
	if s == nil {
		return
	}
	crime := said(s.Crime)
	if f.SuspectedCrime == permits.Unknown {
		f.SuspectedCrime = crime
	}
	if f.SuspectedPoison == permits.Unknown && crime == permits.No {
		f.SuspectedPoison = permits.No // the question names poison too
	}
	f.CausedDeath, f.Research, f.WantsToKeep = said(s.Caused), said(s.Research), said(s.Keep)
	f.PermitCopy, f.InHand = said(s.PermitCopy), said(s.InHand)
	f.Opportunistic = not(said(s.Planned))
	f.OtherHazard = said(s.Danger)
	f.TrafficLane = f.OtherHazard
	if f.OtherHazard == permits.Yes && r.Where != "road" {
		f.TrafficLane = permits.Unknown
	}
	f.EventCount = event(max(r.Count, 1), s)
}

// Acquired is how an animal was come by: as somebody said, or as cause, place
// and signs leave no doubt.
func Acquired(r Report) string {
	cause := ""
	if r.Cause != nil {
		cause = r.Cause.Cause
	}
	switch {
	case r.Acquired != "":
		return r.Acquired
	case r.Signs != nil && r.Signs.Caused == "yes":
		return permits.Killed
	case cause == "care" || cause == "euthanised" || r.Where == "care":
		return permits.DiedInCare
	case r.Signs == nil || r.Signs.Caused != "no":
		return ""
	}
	switch r.Where {
	case "", "freezer", "other":
		return ""
	}
	return permits.FoundDead
}

// event is how many dead animals lie in one place, 0 if that is not known:
// nobody was asked, or there were more and nobody counted them.
func event(found int, s *record.Signs) int {
	switch {
	case s.OthersNearby > 0:
		return found + s.OthersNearby
	case s.Others == "no":
		return found
	}
	return 0
}

func said(word string) permits.Answer {
	switch word {
	case "yes":
		return permits.Yes
	case "no":
		return permits.No
	}
	return permits.Unknown
}

func not(a permits.Answer) permits.Answer {
	if !a.Known() {
		return a
	}
	return permits.AnswerOf(a == permits.No)
}

// circle returns the circle of a place, unknown if it has no coordinates.
func circle(p *record.Georeference) geo.Circle {
	if p == nil || !p.Known {
		return geo.Circle{}
	}
	at, err := geo.At(geo.Degrees(p.Lat), geo.Degrees(p.Lon))
	if err != nil {
		return geo.Circle{}
	}
	if p.Radius == 0 {
		return geo.Circle{Centre: at, Radius: unstated}
	}
	return geo.Circle{Centre: at, Radius: geo.Metres(p.Radius)}
}

// days are those on which it lay there: until it was taken, from when it was
// found.
func days(f *screen.Facts) permits.When {
	if !f.Found.Known() {
		return f.Possessed
	}
	return f.Found
}

func ground(f *screen.Facts, l *record.Land) {
	if l == nil {
		return
	}
	f.LandManager = l.Manager
	switch {
	case l.Permission == "yes" && l.Written:
		f.Consent = permits.Written
	case l.Permission == "yes":
		f.Consent = permits.Spoken
	case l.Permission == "no":
		f.Consent = permits.Refused
	case l.Permission == "not_needed":
		f.Consent = permits.NotApplicable
	}
}
