package screen

import (
	"strings"
	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/sync/record"
)

// Report is what a folded report says, one value per field.
type Report struct {
	Salvager     string
	Found        record.When
	TakenAt      record.When
	Taxon        record.Determination
	Count        int
	Material     string
	Circumstance string
	Cause        record.Cause
	Signs        record.Signs
	Land         record.Land
	Place        record.Georeference
	Band         string
	Deed         string
	Authority    string
}

// Context is what others know of a report: where its circle lies, who the
// salvager is, and what has been answered since.
type Context struct {
	Hits             []region.Hit
	Units            []string       // areas other than political ones in which the circle surely lies
	Managers         []string       // classes of ground that the circle touches, if they were looked up
	Role             string         // public, volunteer, staff, holder
	Barred           permits.Answer // whether the person may use permits at all
	OfficialDuty     permits.Answer
	Designated       permits.Answer
	EvidenceReleased permits.Answer
	DieoffReleased   permits.Answer
	OfflineDevices   int
	Now              permits.Moment // local time at the place
}

// FromReport turns a report into facts. What the report does not say stays
// unknown, but for what its own words imply: an animal reported as found dead
// was not hunted, and an empty nest is not in use.
func FromReport(r *Report, c *Context) Facts {
	f := Facts{Person: r.Salvager, Role: c.Role, Barred: c.Barred, OfficialDuty: c.OfficialDuty,
		Designated: c.Designated, EvidenceReleased: c.EvidenceReleased, DieoffReleased: c.DieoffReleased,
		JudgedAt: c.Now, Units: c.Units, Taxon: r.Taxon.Name, Count: r.Count, Material: r.Material,
		Cause: r.Cause.Cause, Authority: r.Authority, Activity: "salvage", OfflineDevices: c.OfflineDevices,
		LawfulHunt: permits.No, OpenSeason: permits.No}
	if f.Taxon == "" {
		f.Taxon = r.Taxon.Written
	}
	switch r.Taxon.Certainty {
	case record.Sure:
		f.Identified = permits.Yes
	case record.Likely, record.Guess:
		f.Identified = permits.No
	}
	hand(r, c, &f)
	surroundings(r, &f)
	ground(r, c, &f)
	where(r, c, &f)
	body(r, &f)
	return f
}

// hand works out whether and when the animal was taken. One that was taken at
// an unknown time was taken between the find and now.
func hand(r *Report, c *Context, f *Facts) {
	f.Found = when(r.Found)
	f.Possessed = when(r.TakenAt)
	f.InHand = answer(r.Signs.InHand)
	switch r.Deed {
	case "taken":
		f.InHand = permits.Yes
	case "left", "vanished", "agency":
		f.InHand = permits.No
	}
	if !f.Possessed.Known() && f.InHand != permits.No && f.Found.Known() {
		stretch := permits.When{From: f.Found.From, To: c.Now}
		if stretch.Known() {
			f.Possessed = stretch
		}
	}
}

// surroundings reads the signs. A cause that is itself a crime counts as a
// sign of one, whatever was ticked.
func surroundings(r *Report, f *Facts) {
	s := &r.Signs
	f.SuspectedCrime = answer(s.Crime)
	if f.SuspectedCrime == permits.No {
		f.SuspectedPoison = permits.No
	}
	switch r.Cause.Cause {
	case "shot", "trapped":
		f.SuspectedCrime = permits.Yes
	case "poison":
		f.SuspectedPoison = permits.Yes
	}
	f.CausedDeath = answer(s.Caused)
	f.Opportunistic = not(answer(s.Planned))
	f.Research = answer(s.Research)
	f.WantsToKeep = answer(s.Keep)
	if f.WantsToKeep == permits.No {
		f.Sale = permits.No
	}
	f.PermitCopy = answer(s.PermitCopy)
	f.OtherHazard = answer(s.Danger)
	f.TrafficLane = f.OtherHazard
	if f.OtherHazard == permits.Yes && r.Circumstance != "" && r.Circumstance != "road" {
		f.TrafficLane = permits.No
	}
	others := s.OthersNearby
	if r.Count > 0 && (others > 0 || s.Crime != "") {
		// The signs are asked on one card: where it was answered, no number of
		// others means none.
		f.EventCount = r.Count + others
	}
}

func ground(r *Report, c *Context, f *Facts) {
	switch r.Land.Permission {
	case "yes":
		f.Consent = permits.Spoken
		if r.Land.Written {
			f.Consent = permits.Written
		}
	case "no":
		f.Consent = permits.Refused
	case "not_needed":
		f.Consent = permits.NotApplicable
	}
	switch {
	case len(c.Managers) == 1:
		f.LandManager = c.Managers[0]
	case len(c.Managers) > 1:
		f.LandManagersPossible = c.Managers
	default:
		f.LandManager = r.Land.Manager
	}
}

// where turns regions into jurisdictions. Where lines and person differ, both
// are possible.
func where(r *Report, c *Context, f *Facts) {
	said := r.Place.State
	var possible []string
	for i := range c.Hits {
		h := &c.Hits[i]
		if h.Level != region.State {
			continue
		}
		code := stateCode(h.ID)
		if h.Relation == region.Inside && (said == "" || said == code) {
			f.Jurisdictions = []string{code}
			return
		}
		possible = append(possible, code)
	}
	if said != "" && !contains(possible, said) {
		possible = append(possible, said)
	}
	if len(possible) == 1 && said == possible[0] {
		f.Jurisdictions = possible
		return
	}
	f.JurisdictionsPossible = possible
}

func body(r *Report, f *Facts) {
	switch r.Material {
	case "carcass":
		f.SoftTissue = permits.Yes
	case "inactive_nest":
		f.NestActive = permits.No
	case "nonviable_egg":
		f.EggsViable = permits.No
	}
	if r.Cause.Cause != "" && r.Cause.Cause != "care" {
		f.Euthanised = permits.AnswerOf(r.Cause.Cause == "euthanised")
	}
	switch b := strings.ToLower(r.Band); {
	case b == "":
	case b == "none":
		f.Band = "none"
	case strings.Contains(b, "club"):
		f.Band = "club ring"
	default:
		f.Band = "federal metal band"
	}
}

// when reads a time as the record keeps it; anything coarser than a minute
// counts by its days.
func when(w record.When) permits.When {
	from, err := permits.ParseMoment(w.Earliest)
	if err != nil {
		return permits.When{}
	}
	to := from
	if w.Latest != "" {
		if to, err = permits.ParseMoment(w.Latest); err != nil {
			return permits.When{}
		}
	}
	if w.Precision != record.ToMinute {
		from, to = permits.Moment{Date: from.Date}, permits.Moment{Date: to.Date}
	}
	out := permits.When{From: from, To: to}
	if !out.Known() {
		return permits.When{}
	}
	return out
}

func answer(s string) permits.Answer {
	switch s {
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

// states are the two-digit codes of the states and the letters of ISO 3166-2
// after "US-". Source: FIPS PUB 5-2; ISO 3166-2:US uses the same letters.
// From memory, checked against the number of states.
const states = "01AL02AK04AZ05AR06CA08CO09CT10DE11DC12FL13GA15HI16ID17IL18IN19IA20KS21KY22LA23ME24MD25MA26MI27MN28MS" +
	"29MO30MT31NE32NV33NH34NJ35NM36NY37NC38ND39OH40OK41OR42PA44RI45SC46SD47TN48TX49UT50VT51VA53WA54WV55WI56WY" +
	"60AS66GU69MP72PR78VI"

// stateCode turns a region into an ISO 3166-2 code. A region that is not in
// the table keeps its own code, for which no rules are loaded, so that a
// person decides.
func stateCode(id region.ID) string {
	if len(id) >= 2 {
		for i := 0; i < len(states); i += 4 {
			if states[i:i+2] == string(id[:2]) {
				return "US-" + states[i+2:i+4]
			}
		}
	}
	return "US-" + string(id)
}
