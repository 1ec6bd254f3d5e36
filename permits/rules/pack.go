package rules

import (
	"encoding/json"
	"strings"
	"wayfall/permits"
)

// Pack is one file of rules for one jurisdiction, as a permit officer reads it.
type Pack struct {
	ID           string              `json:"id"`
	Version      string              `json:"version"`
	Title        string              `json:"title"`
	Sample       bool                `json:"sample"`
	Notice       string              `json:"notice"`
	Jurisdiction string              `json:"jurisdiction"` // ISO 3166, or * for everywhere
	Place        string              `json:"place"`        // its name in a sentence, where ISO 3166 has none
	Reviewer     string              `json:"reviewer"`     // who signed the pack off; "nobody yet" in samples
	ReviewedAt   permits.Date        `json:"reviewed_at"`
	Sources      map[string]string   `json:"sources"`
	Contacts     map[string]string   `json:"contacts"` // purpose to whom to call
	Calendar     permits.Calendar    `json:"calendar"`
	Laws         []*Law              `json:"laws"`
	Rules        []*Rule             `json:"rules"`
	Authorised   []permits.Authority `json:"authorisations"` // what a regulation allows without a permit
	Cautions     []*CautionRule      `json:"cautions"`
	Papers       []*PaperDuty        `json:"paper_duties"` // what a paper itself asks for
	Retention    []*Retention        `json:"retention"`    // how long records are kept
	// Roles name the rules that the engine itself must be able to cite.
	Roles map[string]permits.RuleID `json:"roles"`

	digest string
	file   string
	blocks bool // something in it may stand in the way of taking
}

// Ref returns the edition of the pack that a verdict names.
func (p *Pack) Ref() permits.PackRef {
	return permits.PackRef{ID: p.ID, Version: p.Version, Digest: p.digest}
}

// Rule is one rule. A rule with a condition is asked of every case; one that
// only laws and roles refer to has none and is marked "referred".
type Rule struct {
	ID            permits.RuleID  `json:"id"`
	Clause        string          `json:"clause"` // tells apart rules that share a name
	Layer         permits.Layer   `json:"layer"`
	Effect        permits.Effect  `json:"effect"`
	EffectiveFrom permits.Date    `json:"effective_from"`
	EffectiveTo   permits.Date    `json:"effective_to"`
	Activities    []string        `json:"activities"` // none: every activity
	When          json.RawMessage `json:"when"`
	Referred      bool            `json:"referred"`
	IfUnknown     string          `json:"if_unknown"` // review (default for blocking rules), skip, or apply
	Speaks        bool            `json:"speaks"`     // it says what this jurisdiction has to say
	Because       string          `json:"because"`
	// InHand is the effect when it was already taken, where that is not a
	// breach: the law is undecided and a person decides.
	InHand        permits.Effect   `json:"effect_in_hand"`
	BecauseInHand string           `json:"because_in_hand"`
	Cites         string           `json:"citation"`
	Sources       []string         `json:"sources"`
	SourceStatus  string           `json:"source_status"`
	Weight        int              `json:"weight"`       // of findings that may decide, the heavier does
	DecidesWhen   json.RawMessage  `json:"decides_when"` // else the weight counts as nothing
	Curable       bool             `json:"curable"`
	GivesWayTo    []permits.RuleID `json:"gives_way_to"`
	Contact       string           `json:"contact"` // a purpose in contacts
	Duties        []*DutyRule      `json:"duties"`
	InHandDuties  []*DutyRule      `json:"duties_in_hand"` // instead of duties, when it was already taken

	pack     *Pack
	key      permits.RuleID
	when     Condition
	decides  Condition
	because  template
	inHand   template
	lateRule bool
	ground   bool // it asks who looks after the ground, and what they say
}

// DutyRule is a duty that a rule starts.
type DutyRule struct {
	Code string          `json:"code"`
	Due  permits.DueRule `json:"due"`
	To   string          `json:"to"`
	Note string          `json:"note"`
	When json.RawMessage `json:"when"`
	// Severity is law, condition or advisory; none counts as a condition.
	Severity permits.Severity `json:"severity"`

	when Condition
}

// Law is one body of law that a case must satisfy if it applies. Laws are
// joined by AND, the covers of one law by OR.
type Law struct {
	ID            string          `json:"id"`
	Title         string          `json:"title"`
	Layer         string          `json:"layer"` // federal, state: for people
	EffectiveFrom permits.Date    `json:"effective_from"`
	EffectiveTo   permits.Date    `json:"effective_to"`
	Activities    []string        `json:"activities"`
	Applies       json.RawMessage `json:"applies"`
	Named         bool            `json:"named"` // only an authority that names the species covers it
	Covers        []*Cover        `json:"covers"`
	Failures      Failures        `json:"failures"`

	pack    *Pack
	applies Condition
	fails   [missCount]*Rule
}

// Cover is one way to satisfy a law: by an authority of one of the kinds, or,
// where no authority is needed, by a condition alone.
type Cover struct {
	Rule     permits.RuleID  `json:"rule"`
	Kinds    []string        `json:"authority_kinds"`
	Activity string          `json:"activity"` // the activity the authority must state, "" for the case's own
	When     json.RawMessage `json:"when"`

	rule *Rule
	when Condition
}

// Failures say which rule to cite when nothing covers the case. Those that are
// not given fall back to None.
type Failures struct {
	None    permits.RuleID `json:"none"`    // no authority is near
	Before  permits.RuleID `json:"before"`  // the authority began too late
	After   permits.RuleID `json:"after"`   // it had ended or does not stand
	Renewal permits.RuleID `json:"renewal"` // it had ended, a complete renewal was filed in time
	// RenewalDays is how many days before the end a renewal is in time.
	RenewalDays int            `json:"renewal_days"`
	Person      permits.RuleID `json:"person"`   // the person is not listed
	Area        permits.RuleID `json:"area"`     // it does not reach this place
	Taxon       permits.RuleID `json:"taxon"`    // nor this taxon
	Scope       permits.RuleID `json:"scope"`    // nor this material or activity
	Purpose     permits.RuleID `json:"purpose"`  // it forbids the purpose
	Depends     permits.RuleID `json:"depends"`  // an authority it depends on is not good
	Copy        permits.RuleID `json:"copy"`     // no copy of it is at hand
	Quota       permits.RuleID `json:"quota"`    // its number is used up
	Conflict    permits.RuleID `json:"conflict"` // another authority fits the cause better
}

// CautionRule is a caution and when to show it.
type CautionRule struct {
	permits.Caution
	When json.RawMessage `json:"when"`

	when Condition
}

// mostWords is how many words a sentence may ask to be filled in.
const mostWords = 8

// template is a sentence with places to fill in.
type template []string // literal, name, literal, name, ..., literal

func parseTemplate(s string) template {
	var t template
	for {
		open := indexByte(s, '{')
		shut := indexByte(s, '}')
		if open < 0 || shut < open {
			return append(t, s)
		}
		t = append(t, s[:open], s[open+1:shut])
		s = s[shut+1:]
	}
}

func indexByte(s string, c byte) int {
	for i := range len(s) {
		if s[i] == c {
			return i
		}
	}
	return -1
}

func (t template) fill(word func(string) string) string {
	if len(t) == 1 {
		return t[0]
	}
	n := 0
	var words [mostWords]string
	for i, s := range t {
		if i%2 == 1 && i/2 < len(words) {
			words[i/2] = word(s)
			if i == 1 && t[0] == "" || strings.HasSuffix(t[i-1], ". ") {
				words[i/2] = capital(words[i/2])
			}
			s = words[i/2]
		}
		n += len(s)
	}
	b := make([]byte, 0, n)
	for i, s := range t {
		if i%2 == 1 && i/2 < len(words) {
			s = words[i/2]
		}
		b = append(b, s...)
	}
	return string(b)
}

// capital begins a sentence.
func capital(s string) string {
	if s != "" && 'a' <= s[0] && s[0] <= 'z' {
		return string(s[0]-('a'-'A')) + s[1:]
	}
	return s
}
