package permits

import "strings"

// Release lifts a legal hold: a named person did it, on a document, for a
// reason. The zero Release lifts nothing.
type Release struct {
	By       string
	Document string
	Reason   string
}

// Whole tells whether nothing is missing: a hold that somebody just waved away
// still stands.
func (r Release) Whole() bool {
	return strings.TrimSpace(r.By) != "" && strings.TrimSpace(r.Document) != "" && strings.TrimSpace(r.Reason) != ""
}

const releasedBy, onDocument, because = "Released by ", ", document ", ", because "

// Text writes the release as it stands in the record beside the hold that it
// answers. A comma in a name or a document is written as a semicolon.
func (r Release) Text() string {
	plain := strings.NewReplacer(",", ";", "\n", " ")
	return releasedBy + plain.Replace(strings.TrimSpace(r.By)) + onDocument + plain.Replace(strings.TrimSpace(r.Document)) +
		because + strings.TrimSpace(r.Reason)
}

// ParseRelease reads what Text writes. Anything else, and a release of which a
// part is missing, is none.
func ParseRelease(text string) (Release, bool) {
	rest, ok := strings.CutPrefix(text, releasedBy)
	by, rest, okDocument := strings.Cut(rest, onDocument)
	document, reason, okReason := strings.Cut(rest, because)
	r := Release{by, document, reason}
	return r, ok && okDocument && okReason && r.Whole()
}

// Held tells whether an animal is held, and why, from every value that its
// record shows at once: of one that says held and one that says released, both
// written by people who did not know of each other, the hold counts.
func Held(values []string) (reason string, held bool) {
	for _, v := range values {
		if _, released := ParseRelease(v); released || strings.TrimSpace(v) == "" {
			continue
		}
		return v, true
	}
	return "", false
}

// UnderHold are the acts that a hold leaves free, with no other: looking,
// keeping it as it is, and handing it to those for whom it is held.
var UnderHold = []string{"observe", "photograph", "label", "store", "hand_to_agency", "record"}

// HoldRule is the rule by which an act on a held animal is refused.
const HoldRule RuleID = "R-LEGAL-HOLD"

// MayAct tells whether an act may be done on an animal whose record says these
// things of a hold. An act that nobody named is not free. The finding of a
// refusal says why in one sentence; that of a release names the document.
func MayAct(act string, values []string) (bool, Finding) {
	f := Finding{Rule: HoldRule, Layer: Evidence, Effect: Noted,
		Cites:        "design rule: what may be evidence stays as it is until a document releases it",
		SourceStatus: "practice"}
	reason, held := Held(values)
	switch {
	case held && !contains(UnderHold, act):
		f.Effect = Holds
		f.Because = "This animal is held (" + strings.TrimRight(reason, ". ") +
			"): it is not prepared, sampled, lent, given away or destroyed until a named person releases it on a document."
		return false, f
	case held:
		f.Because = "This animal is held (" + strings.TrimRight(reason, ". ") + "): keep it whole, and write down every hand it passes through."
	default:
		f.Because = "Nothing holds this animal."
		for _, v := range values {
			if r, ok := ParseRelease(v); ok {
				f.Because = "The hold was lifted by " + r.By + " on " + r.Document + ": " + r.Reason
			}
		}
	}
	return true, f
}
