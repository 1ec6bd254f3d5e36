package permits

import "errors"

// Answer is what somebody said to a yes-or-no question. The zero Answer is
// "nobody said", which is never read as either.
type Answer int8

// The answers.
const (
	Unknown Answer = iota
	No
	Yes
)

// Known tells whether somebody answered.
func (a Answer) Known() bool { return a == No || a == Yes }

// IsZero lets JSON leave out an answer nobody gave.
func (a Answer) IsZero() bool { return a == Unknown }

// AnswerOf turns a plain truth into an answer.
func AnswerOf(b bool) Answer {
	if b {
		return Yes
	}
	return No
}

// MarshalJSON writes true, false or null.
func (a Answer) MarshalJSON() ([]byte, error) {
	switch a {
	case Yes:
		return []byte("true"), nil
	case No:
		return []byte("false"), nil
	}
	return []byte("null"), nil
}

// UnmarshalJSON reads true, false or null.
func (a *Answer) UnmarshalJSON(text []byte) error {
	switch string(text) {
	case "true":
		*a = Yes
	case "false":
		*a = No
	case "null":
		*a = Unknown
	default:
		return errors.New("an answer is true, false or null, not " + string(text))
	}
	return nil
}

// Consent is what is known of the land owner's or manager's permission to take
// something away. The zero Consent is unknown.
type Consent string

// The states of consent. In JSON true and false may stand for Written and
// Refused.
const (
	Written       Consent = "written"
	Spoken        Consent = "spoken"
	Refused       Consent = "none"
	NotApplicable Consent = "not_applicable"
)

// UnmarshalJSON reads one of the states, or true, false or null.
func (c *Consent) UnmarshalJSON(text []byte) error {
	switch s := string(text); s {
	case "true", `"written"`:
		*c = Written
	case "false", `"none"`:
		*c = Refused
	case `"spoken"`:
		*c = Spoken
	case `"not_applicable"`:
		*c = NotApplicable
	case "null", `""`:
		*c = ""
	default:
		return errors.New("consent is written, spoken, none or not_applicable, not " + s)
	}
	return nil
}
