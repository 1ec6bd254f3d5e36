package permits

// Status is how an authority stands. The zero Status is unknown and counts as
// not in force.
type Status string

// The states of an authority.
const (
	Draft          Status = "draft"
	IssuedUnsigned Status = "issued_unsigned"
	Active         Status = "active"
	Continued      Status = "continued_pending_renewal" // past its date, kept alive by a timely renewal
	Suspended      Status = "suspended"
	Revoked        Status = "revoked"
	Expired        Status = "expired"
	Surrendered    Status = "surrendered"
)

// Grant names a person on an authority, from and to the given days, both
// included. An unknown end leaves that side to the authority's own dates. Areas
// and taxa, where there are any, are all that this person may act in and on.
type Grant struct {
	Person string   `json:"id"`
	Role   string   `json:"role,omitempty"`
	From   Date     `json:"from,omitempty"`
	To     Date     `json:"to,omitempty"`
	Area   []string `json:"area,omitempty"`
	Taxa   []string `json:"taxa,omitempty"`
}

// On tells whether the grant is the person's and holds on the day.
func (g *Grant) On(person string, on Date) bool {
	return person != "" && g.Person == person && (g.From == 0 || g.From <= on) && (g.To == 0 || on <= g.To)
}

// Quota is a number that an authority states. It is a ceiling.
type Quota struct {
	ID     string   `json:"id"`
	Per    string   `json:"per"`             // taxon: each species apart; list: the taxa named, together; all: everything
	Taxa   []string `json:"taxa,omitempty"`  // selectors; for per taxon, none means every taxon
	Units  []string `json:"units,omitempty"` // materials counted; none means every material
	Limit  int      `json:"limit"`
	Window string   `json:"window"` // calendar_year, permit_year, permit_life, season, or event: one day
	Shared string   `json:"shared,omitempty"`
	// Unlimited says that the paper states there is no ceiling.
	Unlimited bool `json:"unlimited,omitempty"`

	// What it asks beside kind and material; none of each: it does not ask. An
	// animal of which that is not known counts against every number to which it
	// may belong.
	Sexes        []string `json:"sexes,omitempty"`
	Ages         []string `json:"ages,omitempty"`
	Causes       []string `json:"causes,omitempty"`
	ExemptCauses []string `json:"exempt_causes,omitempty"`
	ExemptTaxa   []string `json:"exempt_taxa,omitempty"` // selectors that it leaves out
	Acquired     []string `json:"acquired,omitempty"`
	CountsWhen   string   `json:"counts_when,omitempty"` // a word of Stages; none: what was picked up, by the day of the find
	Season       *Season  `json:"season,omitempty"`      // for the window season
	WarnAt       int      `json:"warn_at,omitempty"`     // a count from which it warns, before the ceiling or without one
	WarnPercent  int      `json:"warn_percent,omitempty"`
}

// Authority is what makes an act lawful: a permit, a regulation that needs no
// permit, a land permission, an official duty.
type Authority struct {
	ID            string `json:"id"`
	Version       int    `json:"version,omitempty"`
	EffectiveFrom Date   `json:"effective_from,omitempty"` // when this version began to hold; unknown: valid_from
	Sample        bool   `json:"sample,omitempty"`
	Notice        string `json:"notice,omitempty"`

	Name         string `json:"name,omitempty"` // what people call it, without an article
	Kind         string `json:"kind"`
	Issuer       string `json:"issuer,omitempty"`
	Number       string `json:"number,omitempty"`
	Basis        string `json:"basis"`
	Jurisdiction string `json:"jurisdiction"`
	Holder       string `json:"holder"`
	ValidFrom    Date   `json:"valid_from,omitempty"`
	ValidTo      Date   `json:"valid_to,omitempty"` // unknown: no end
	Ended        Date   `json:"ended,omitempty"`    // revoked, suspended or surrendered on this day, before valid_to
	Status       Status `json:"status"`

	AnyPerson    bool     `json:"any_person,omitempty"`
	Persons      []Grant  `json:"persons,omitempty"`
	Area         []string `json:"area"`
	TaxaInclude  []string `json:"taxa_include"`
	TaxaExclude  []string `json:"taxa_exclude,omitempty"`
	Activities   []string `json:"activities"`
	Materials    []string `json:"materials,omitempty"` // none: the paper does not limit them
	Causes       []string `json:"causes,omitempty"`    // none: the paper does not limit them
	Forbids      []string `json:"forbids,omitempty"`   // scientific_research, systematic_collecting, keep, sell
	Quotas       []Quota  `json:"quotas,omitempty"`
	DepositRule  *DueRule `json:"deposit_rule,omitempty"`
	ReportDue    MonthDay `json:"report_due,omitempty"`
	ReportTo     string   `json:"report_to,omitempty"`
	CarryCopy    bool     `json:"carry_copy,omitempty"`
	Repositories []string `json:"repositories,omitempty"`
	DependsOn    []string `json:"depends_on,omitempty"`
	CoverCare    Answer   `json:"covers_died_in_care,omitempty"`
	// Acquired are the ways of coming by an animal that the paper covers; none:
	// it does not limit them.
	Acquired []string `json:"acquired,omitempty"`
	// ReportsAlso are selectors of kinds that need no permit, which the paper
	// asks to have in its report all the same.
	ReportsAlso []string `json:"reports_also,omitempty"`
}

// Phrase returns the authority as it stands in a sentence: "the state salvage
// permit", by its kind where nobody gave it a name. It is never the id.
func (a *Authority) Phrase() string {
	name := a.Name
	if name == "" {
		name = KindText(a.Kind)
	}
	if name == "" {
		return ""
	}
	first := name[0]
	if len(name) > 1 && 'A' <= first && first <= 'Z' && 'a' <= name[1] && name[1] <= 'z' {
		return "the " + string(first+'a'-'A') + name[1:]
	}
	return "the " + name
}

// From returns the day from which this version counts.
func (a *Authority) From() Date {
	if a.EffectiveFrom.Known() {
		return a.EffectiveFrom
	}
	return a.ValidFrom
}

// End returns the day on which the authority ended or will end: by its date, or
// earlier where it was ended. The unknown date: no end is known.
func (a *Authority) End() Date {
	if a.Ended.Known() && (!a.ValidTo.Known() || a.Ended < a.ValidTo) {
		return a.Ended
	}
	return a.ValidTo
}

// InForce tells whether the authority stands on the day: No before, after or
// while suspended, Unknown if the day is not known.
func (a *Authority) InForce(on Date) Answer {
	if !on.Known() {
		return Unknown
	}
	switch a.Status {
	case Continued:
		return AnswerOf(a.ValidFrom <= on)
	case Active, Expired:
		return AnswerOf(a.ValidFrom <= on && (a.ValidTo == 0 || on <= a.ValidTo))
	}
	return No
}

// Lists tells whether the person is on the authority on the day. A person
// without a name is on nothing but an authority for everybody.
func (a *Authority) Lists(person string, on Date) bool {
	if a.AnyPerson {
		return true
	}
	for i := range a.Persons {
		g := &a.Persons[i]
		if g.On(person, on) {
			return true
		}
	}
	return false
}

// Names tells whether the person appears on the authority at all, whatever the
// dates.
func (a *Authority) Names(person string) bool {
	if a.AnyPerson {
		return true
	}
	for i := range a.Persons {
		if a.Persons[i].Person == person && person != "" {
			return true
		}
	}
	return false
}

// VersionAt returns the version of the authority that was in force on the day:
// the latest that had begun. If none had, the first is returned, whose dates
// then tell that it came too late. It returns nil if no version has the id.
func VersionAt(all []Authority, id string, on Date) *Authority {
	var best, first *Authority
	for i := range all {
		a := &all[i]
		if a.ID != id {
			continue
		}
		if first == nil || a.From() < first.From() {
			first = a
		}
		if a.From() <= on && (best == nil || best.From() < a.From() ||
			best.From() == a.From() && best.Version < a.Version) {
			best = a
		}
	}
	if best == nil {
		return first
	}
	return best
}
