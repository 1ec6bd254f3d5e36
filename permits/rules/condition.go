package rules

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"wayfall/permits"
)

// op is what a condition does.
type op uint8

const (
	opAlways op = iota
	opAll
	opAny
	opNot
	opIs
	opIn
	opAtLeast
	opAtMost
	opKnown
)

// Condition is a compiled question over the facts of a case. The zero
// Condition is always true.
type Condition struct {
	op    op
	fact  Fact
	kids  []Condition
	kind  kind
	yes   bool
	num   int64
	words []string
}

// conditionText is how a condition is written.
type conditionText struct {
	All     []json.RawMessage `json:"all"`
	Any     []json.RawMessage `json:"any"`
	Not     json.RawMessage   `json:"not"`
	Fact    string            `json:"fact"`
	Is      json.RawMessage   `json:"is"`
	Has     string            `json:"has"`
	In      []string          `json:"in"`
	AtLeast *int64            `json:"at_least"`
	AtMost  *int64            `json:"at_most"`
	Before  permits.Date      `json:"before"`
	OnAfter permits.Date      `json:"from"`
	Known   *bool             `json:"known"`
}

// parseCondition compiles a condition. Faults are told to complain with the
// path at which they stand.
func parseCondition(text json.RawMessage, path string, complain func(path, what string)) Condition {
	if len(text) == 0 {
		return Condition{}
	}
	var t conditionText
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&t); err != nil {
		complain(path, "cannot be read: "+strings.TrimPrefix(err.Error(), "json: "))
		return Condition{}
	}
	if what := t.unclear(); what != "" {
		complain(path, what)
		return Condition{}
	}
	switch {
	case t.All != nil:
		return Condition{op: opAll, kids: parseKids(t.All, path+".all", complain)}
	case t.Any != nil:
		return Condition{op: opAny, kids: parseKids(t.Any, path+".any", complain)}
	case t.Not != nil:
		return Condition{op: opNot, kids: []Condition{parseCondition(t.Not, path+".not", complain)}}
	}
	f, ok := factNamed(t.Fact)
	if !ok {
		complain(path, fmt.Sprintf("there is no fact named %q", t.Fact))
		return Condition{}
	}
	return parseTest(f, &t, path, complain)
}

// unclear says why a condition cannot be taken at its word, or "" if it can:
// one that asks nothing would always hold, and of one that asks two things only
// one would be heard.
func (t *conditionText) unclear() string {
	joins, tests := 0, 0
	for _, set := range [...]bool{t.All != nil, t.Any != nil, t.Not != nil} {
		if set {
			joins++
		}
	}
	for _, set := range [...]bool{t.Is != nil, t.Has != "", t.In != nil, t.AtLeast != nil, t.AtMost != nil,
		t.Before.Known(), t.OnAfter.Known(), t.Known != nil} {
		if set {
			tests++
		}
	}
	switch {
	case joins+tests == 0 && t.Fact == "":
		return "the condition is empty"
	case joins > 1 || tests > 1 || joins == 1 && (tests > 0 || t.Fact != ""):
		return "asks more than one thing; join them with all or any"
	}
	return ""
}

func parseKids(list []json.RawMessage, path string, complain func(path, what string)) []Condition {
	if len(list) == 0 {
		complain(path, "the list is empty")
	}
	kids := make([]Condition, len(list))
	for i, k := range list {
		kids[i] = parseCondition(k, fmt.Sprintf("%s[%d]", path, i), complain)
	}
	return kids
}

func parseTest(f Fact, t *conditionText, path string, complain func(path, what string)) Condition {
	c := Condition{fact: f}
	switch {
	case t.Is != nil:
		c.op = opIs
		if err := c.literal(t.Is); err != nil {
			complain(path+".is", err.Error())
			return Condition{}
		}
	case t.Has != "":
		c.op, c.kind, c.words = opIs, wordKind, []string{t.Has}
	case t.In != nil:
		c.op, c.words = opIn, t.In
	case t.AtLeast != nil:
		c.op, c.num = opAtLeast, *t.AtLeast
	case t.AtMost != nil:
		c.op, c.num = opAtMost, *t.AtMost
	case t.Before.Known():
		c.op, c.num = opAtMost, int64(t.Before)-1
	case t.OnAfter.Known():
		c.op, c.num = opAtLeast, int64(t.OnAfter)
	case t.Known != nil:
		c.op, c.yes = opKnown, *t.Known
	default:
		complain(path, "nothing is asked of "+t.Fact)
	}
	switch {
	case !c.fits():
		complain(path, t.Fact+" cannot be compared with that kind of value")
	case c.op == opIn && len(c.words) == 0:
		complain(path+".in", "the list is empty")
	case c.num < 0 && c.op != opIn && f != DaysSinceExpiry:
		complain(path, t.Fact+" is never negative")
	}
	return c
}

// fits tells whether the question can be asked of the fact: a number compared
// with a word would never hold, and its opposite always.
func (c *Condition) fits() bool {
	switch c.op {
	case opAtLeast, opAtMost:
		return c.fact.takes() == numberKind
	case opIn:
		return c.fact.takes() == wordKind
	case opIs:
		return c.fact.takes() == c.kind
	}
	return true
}

func (c *Condition) literal(text json.RawMessage) error {
	var b bool
	var n int64
	var s string
	switch {
	case json.Unmarshal(text, &b) == nil:
		c.kind, c.yes = boolKind, b
	case json.Unmarshal(text, &n) == nil:
		c.kind, c.num = numberKind, n
	case json.Unmarshal(text, &s) == nil && s != "":
		c.kind, c.words = wordKind, []string{s}
	default:
		return fmt.Errorf("%s is neither true, false, a whole number nor a word", text)
	}
	return nil
}

// Eval answers the condition for the facts.
func (c *Condition) Eval(in *Inputs) Truth {
	switch c.op {
	case opAlways:
		return True
	case opAll:
		return c.evalKids(in, False)
	case opAny:
		return c.evalKids(in, True)
	case opNot:
		switch c.kids[0].Eval(in) {
		case True:
			return False
		case False:
			return True
		}
		return CannotTell
	}
	return c.evalTest(&in[c.fact])
}

// evalKids returns stop as soon as one part gives it, "cannot tell" if any
// part could not be told, and the opposite of stop otherwise.
func (c *Condition) evalKids(in *Inputs, stop Truth) Truth {
	out := True + False - stop
	for i := range c.kids {
		switch c.kids[i].Eval(in) {
		case stop:
			return stop
		case CannotTell:
			out = CannotTell
		}
	}
	return out
}

func (c *Condition) evalTest(v *Value) Truth {
	if c.op == opKnown {
		return truth(v.Known() == c.yes)
	}
	switch v.kind {
	case boolKind:
		return truth(v.yes == c.yes && c.kind == boolKind)
	case numberKind:
		return c.evalNumber(int64(v.num), int64(v.top))
	case wordKind:
		return truth(holds(c.words, v.word))
	case setKind:
		return c.evalSet(v.set)
	}
	return CannotTell
}

func (c *Condition) evalNumber(least, most int64) Truth {
	first, last := c.test(least), c.test(most)
	if c.op == opIs && least != most && least <= c.num && c.num <= most {
		return CannotTell
	}
	if first != last {
		return CannotTell
	}
	return first
}

func (c *Condition) test(n int64) Truth {
	switch c.op {
	case opAtLeast:
		return truth(n >= c.num)
	case opAtMost:
		return truth(n <= c.num)
	}
	return truth(n == c.num && c.kind == numberKind)
}

func (c *Condition) evalSet(v *wordSet) Truth {
	possible := false
	for _, w := range c.words {
		if holds(v.all, w) {
			return True
		}
		possible = possible || holds(v.any, w)
	}
	if possible {
		return CannotTell
	}
	return False
}

// missing appends the facts that keep the condition from being told.
func (c *Condition) missing(in *Inputs, out []string) []string {
	if c.Eval(in) != CannotTell {
		return out
	}
	if c.kids == nil {
		if name := c.fact.String(); !holds(out, name) {
			out = append(out, name)
		}
		return out
	}
	for i := range c.kids {
		out = c.kids[i].missing(in, out)
	}
	return out
}

// facts calls f with every fact that the condition asks for.
func (c *Condition) facts(f func(Fact)) {
	if c.kids == nil && c.op != opAlways {
		f(c.fact)
	}
	for i := range c.kids {
		c.kids[i].facts(f)
	}
}

func holds(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
