// Package facts turns a report, as the log keeps it, into the facts that the
// one check judges.
//
// It promises that what a report does not say stays unknown, and that a place
// near a line is offered as every state it may lie in. It judges nothing and
// looks nothing up but the boundary lines it is handed.
package facts

import (
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
}

// NoBand is what a report says of a band when somebody looked and saw none.
const NoBand = "none"

// Asked says who asks, when, and with which lines on the map.
type Asked struct {
	Person string
	Role   string
	Barred permits.Answer // what the institution knows of the person's papers
	Now    permits.Moment
	Lines  *region.Map // nil: no lines at hand, only what a person said
}

// Of returns the facts of a report about a carcass that may be taken.
func Of(r Report, a Asked) screen.Facts {
	f := screen.Facts{
		Person: a.Person, Role: a.Role, JudgedAt: a.Now, Activity: "salvage",
		Found: when(r.Found), Possessed: when(r.TakenAt),
		Count: r.Count, Material: r.Material, Authority: r.Authority,
		Barred: a.Barred,
	}
	f.Jurisdictions, f.JurisdictionsPossible = states(r.Place, a.Lines)
	if r.Place != nil {
		f.Site = r.Place.County
	}
	animal(&f, r)
	death(&f, r)
	signs(&f, r)
	land(&f, r.Land)
	return f
}

// when reads the bounds of a moment. One that cannot be read is unknown.
func when(w *record.When) permits.When {
	if w == nil || w.Earliest == "" {
		return permits.When{}
	}
	latest := w.Latest
	if latest == "" {
		latest = w.Earliest
	}
	from, err := permits.ParseMoment(w.Earliest)
	to, err2 := permits.ParseMoment(latest)
	if err != nil || err2 != nil {
		return permits.When{}
	}
	return permits.When{From: from, To: to}
}

// states returns the state in which the whole circle lies, or all in which it
// may. Without coordinates, what a person said counts.
func states(p *record.Georeference, lines *region.Map) (sure, possible []string) {
	if p == nil {
		return nil, nil
	}
	if !p.Known || lines == nil {
		if code := codeOf(p.State); code != "" {
			return []string{code}, nil
		}
		return nil, nil
	}
	at, err := geo.At(geo.Degrees(p.Lat), geo.Degrees(p.Lon))
	if err != nil {
		return nil, nil
	}
	for _, hit := range lines.Locate(geo.Circle{Centre: at, Radius: geo.Metres(p.Radius)}) {
		if hit.Level != region.State {
			continue
		}
		if hit.Relation == region.Inside {
			return []string{Code(hit.ID)}, nil
		}
		possible = append(possible, Code(hit.ID))
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
	case strings.EqualFold(r.Band, NoBand):
		f.Band = "none"
	default:
		f.Band = "federal metal band" // there is a mark; the strictest kind is assumed
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
	crime := Said(s.Crime)
	if f.SuspectedCrime == permits.Unknown {
		f.SuspectedCrime = crime
	}
	if f.SuspectedPoison == permits.Unknown && crime == permits.No {
		f.SuspectedPoison = permits.No // the question names poison too
	}
	f.CausedDeath, f.Research, f.WantsToKeep = Said(s.Caused), Said(s.Research), Said(s.Keep)
	if f.WantsToKeep == permits.No {
		f.Sale = permits.No // the question names selling too
	}
	f.PermitCopy, f.InHand = Said(s.PermitCopy), Said(s.InHand)
	f.Opportunistic = not(Said(s.Planned))
	f.OtherHazard = Said(s.Danger)
	f.TrafficLane = f.OtherHazard
	if f.OtherHazard == permits.Yes && r.Where != "road" {
		f.TrafficLane = permits.Unknown
	}
	if s.Crime != "" || s.OthersNearby > 0 {
		f.EventCount = max(r.Count, 1) + s.OthersNearby
	}
}

// Said reads "yes" and "no"; every other word is unknown.
func Said(word string) permits.Answer {
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

func land(f *screen.Facts, l *record.Land) {
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
