// Package vectors reads finds with the answers that are wanted of them, and
// compares verdicts with those answers. Every body that judges, the server,
// the phone's program and the engine itself, is held to the same file by the
// same comparison.
//
// It promises to compare all that a vector states: the outcome and the deciding
// rule of the visit and of each find, every duty with its due time in the local
// time of the find, to whom it is owed and what is noted beside it, and for
// each layer the rules that must speak or must not block. It judges nothing.
package vectors

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
)

// File is a file of vectors.
type File struct {
	Notice   string          `json:"notice"`
	Notes    []string        `json:"notes"`    // how the facts of a find were coded
	Ordinary json.RawMessage `json:"ordinary"` // what every find states unless it says otherwise
	Cases    []Case          `json:"cases"`
}

// Case is one visit.
type Case struct {
	ID      string            `json:"id"`
	Name    string            `json:"name"`
	Source  string            `json:"source"`
	Facts   []json.RawMessage `json:"facts"`
	Tallies quota.Fixed       `json:"tallies"`
	Want    Want              `json:"want"`
	// Note says where the coding of this case had a choice.
	Note string `json:"note"`
}

// Want is what a visit must come out as. Where the finds of a visit part, its
// outcome is the word partial and Items hold the outcome of each.
type Want struct {
	Outcome     string            `json:"outcome"`
	Rule        permits.RuleID    `json:"deciding_rule"`
	Obligations []Duty            `json:"obligations"`
	Items       []permits.Outcome `json:"items"`
	// Layers name, for each layer, rules that must speak with an effect, and
	// behind a minus rules that must not block.
	Layers map[string][]string `json:"layers"`
}

// Duty is a duty that must be started, and no other.
type Duty struct {
	Code string         `json:"code"`
	Due  permits.Moment `json:"due"`
	Word string         `json:"word"`
	To   string         `json:"to"`
	Note string         `json:"note"`
}

// Partial is the outcome of a visit whose finds part.
const Partial = "partial"

// Read reads a file of vectors.
func Read(data []byte) (File, error) {
	var f File
	err := json.Unmarshal(data, &f)
	return f, err
}

// Visit returns the facts of a case, laid over what is ordinary.
func (f *File) Visit(c *Case) ([]screen.Facts, error) {
	out := make([]screen.Facts, len(c.Facts))
	for i, text := range c.Facts {
		for _, layer := range []json.RawMessage{f.Ordinary, text} {
			if err := json.Unmarshal(layer, &out[i]); err != nil {
				return nil, fmt.Errorf("%s: %w", c.ID, err)
			}
		}
	}
	return out, nil
}

// gravity orders outcomes, the gravest first.
var gravity = []permits.Outcome{permits.BreachToResolve, permits.HoldCallFirst, permits.RefusePickup,
	permits.RefuseTransfer, permits.ReviewByPerson, permits.ObligationDue, permits.AllowWithObligations}

// Gravest returns the verdict for which a visit as a whole stands.
func Gravest(all []permits.Verdict) permits.Verdict {
	for _, o := range gravity {
		for _, v := range all {
			if v.Outcome == o {
				return v
			}
		}
	}
	return permits.Verdict{}
}

// Differences says where the verdicts of a visit are not as the case wants
// them: got, then want.
func (c *Case) Differences(verdicts []permits.Verdict) []string {
	worst := Gravest(verdicts)
	out := c.outcomes(worst, verdicts)
	if worst.Deciding.Rule != c.Want.Rule {
		out = append(out, fmt.Sprintf("got it decided by %s (%s), want %s", worst.Deciding.Rule, worst.Deciding.Because, c.Want.Rule))
	}
	var got, want []string
	for _, v := range verdicts {
		if v.Outcome != worst.Outcome && c.Want.Outcome != Partial {
			continue
		}
		for _, o := range v.Obligations {
			got = append(got, spelt(o.Code, o.Due.At, o.Due.Word, o.To, o.Note))
		}
	}
	for _, o := range c.Want.Obligations {
		want = append(want, spelt(o.Code, o.Due, o.Word, o.To, o.Note))
	}
	slices.Sort(got)
	slices.Sort(want)
	if got = slices.Compact(got); !slices.Equal(got, want) {
		out = append(out, fmt.Sprintf("duties:\n got %q\nwant %q", got, want))
	}
	return append(out, c.layers(verdicts)...)
}

func (c *Case) outcomes(worst permits.Verdict, verdicts []permits.Verdict) []string {
	var each []permits.Outcome
	for _, v := range verdicts {
		each = append(each, v.Outcome)
	}
	switch {
	case len(c.Want.Items) > 0 && !slices.Equal(each, c.Want.Items):
		return []string{fmt.Sprintf("got %v find by find, want %v", each, c.Want.Items)}
	case c.Want.Outcome == Partial && len(slices.Compact(slices.Clone(each))) < 2:
		return []string{fmt.Sprintf("got %v for every find, want them to part", worst.Outcome)}
	case c.Want.Outcome != Partial && worst.Outcome.String() != c.Want.Outcome:
		return []string{fmt.Sprintf("got %v, want %v", worst.Outcome, c.Want.Outcome)}
	}
	return nil
}

func spelt(code string, due permits.Moment, word, to, note string) string {
	return code + " due " + due.String() + " " + word + " to " + to + "; " + note
}

// layers compares what spoke in each layer of any find of the visit.
func (c *Case) layers(verdicts []permits.Verdict) []string {
	var out []string
	for layer, rules := range c.Want.Layers {
		for _, r := range rules {
			must := true
			r, without := strings.CutPrefix(r, "-")
			if without {
				must = false
			}
			if spoke(verdicts, r, must) != must {
				out = append(out, fmt.Sprintf("%s: got %q spoken %v, want %v", layer, r, !must, must))
			}
		}
	}
	return out
}

// spoke tells whether a rule was found with an effect or, with any asked for
// blocking, whether it blocks.
func spoke(verdicts []permits.Verdict, want string, effect bool) bool {
	for _, v := range verdicts {
		for _, f := range v.Findings {
			if effect && string(f.Rule)+" "+f.Effect.String() == want || !effect && string(f.Rule) == want && f.Effect.Blocks() {
				return true
			}
		}
		for _, k := range v.Cautions {
			if effect && "caution "+k.Code == want {
				return true
			}
		}
	}
	return false
}
