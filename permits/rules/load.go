package rules

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"wayfall/permits"
)

// Fault is one thing that is wrong with a pack.
type Fault struct {
	File string // the pack's file
	Rule string // the rule or law, "" for the pack itself
	Path string // where in it
	What string // what is wrong
}

// String writes the fault on one line.
func (f Fault) String() string {
	return f.File + ": " + f.Rule + " " + f.Path + ": " + f.What
}

// BadPack is the error that lists everything wrong with a pack.
type BadPack []Fault

// Error lists the faults, one to a line.
func (b BadPack) Error() string {
	lines := make([]string, len(b))
	for i, f := range b {
		lines[i] = f.String()
	}
	return strings.Join(lines, "\n")
}

// placeholders are the names that a sentence may ask to be filled in.
var placeholders = []string{"taxon", "person", "authority", "holder", "valid_from", "valid_to", "used", "limit",
	"place", "manager", "unit", "count", "cause", "material", "other", "date", "missing", "could_be", "number", "allows"}

// sourceStatuses are the words for how far a text was read.
var sourceStatuses = []string{"read", "read-quoted", "read-secondary", "read-partly", "mixed", "memory", "derived",
	"practice", "sample"}

type loader struct {
	file   string
	pack   *Pack
	faults BadPack
	unread []string // paths that could not be read: nothing more is said of them
}

func (l *loader) complain(rule, path, format string, args ...any) {
	for _, u := range l.unread {
		if path == u || strings.HasPrefix(path, u+".") || strings.HasPrefix(path, u+"[") {
			return
		}
	}
	l.faults = append(l.faults, Fault{l.file, rule, path, fmt.Sprintf(format, args...)})
}

// Load reads and compiles a pack. If anything is wrong it returns a BadPack
// that lists all of it.
func Load(file string, data []byte) (*Pack, error) {
	p, faults := load(file, data)
	if len(faults) > 0 {
		return nil, faults
	}
	return p, nil
}

// load returns what can be read of a pack, and all that is wrong with it.
func load(file string, data []byte) (*Pack, BadPack) {
	l := &loader{file: file, pack: &Pack{file: file}}
	if !l.read(data) {
		return l.pack, l.faults
	}
	l.head()
	seen := map[permits.RuleID]bool{}
	for i, r := range l.pack.Rules {
		r.key = r.ID
		if r.Clause != "" {
			r.key += permits.RuleID("/" + r.Clause)
		}
		if seen[r.key] {
			l.complain(string(r.key), fmt.Sprintf("rules[%d]", i), "the pack has two rules of this name and clause")
		}
		seen[r.key] = true
		l.rule(r, fmt.Sprintf("rules[%d]", i))
	}
	for i, w := range l.pack.Laws {
		l.law(w, fmt.Sprintf("laws[%d]", i))
	}
	l.pack.blocks = len(l.pack.Laws) > 0 || slices.ContainsFunc(l.pack.Rules, func(r *Rule) bool { return r.Effect.Blocks() })
	l.rest()
	l.kept()
	l.twice()
	if len(l.faults) == 0 {
		sum := sha256.Sum256(unspaced(data))
		l.pack.digest = hex.EncodeToString(sum[:])
	}
	return l.pack, l.faults
}

// read reads the file in one go, or, where that fails, member by member so
// that every fault is named. It returns false if nothing could be read.
func (l *loader) read(data []byte) bool {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	err := dec.Decode(l.pack)
	if err == nil && dec.More() {
		l.complain("", "$", "something follows the end of the pack")
	}
	if err == nil && !l.pack.hollow() {
		return true
	}
	*l.pack = Pack{file: l.file}
	if !json.Valid(data) {
		l.complain("", "$", "cannot be read: %v", err)
		return false
	}
	d := decoder{complain: func(path, what string) {
		l.faults = append(l.faults, Fault{l.file, "", path, what})
		l.unread = append(l.unread, path)
	}}
	d.fill(reflect.ValueOf(l.pack).Elem(), data, "")
	for i := range l.faults {
		l.faults[i].Rule = l.pack.owner(l.faults[i].Path)
	}
	return true
}

// unspaced writes a pack as a field kit carries it, without white space and
// with the signs escaped that mean something in HTML: it is the same pack as
// the file.
func unspaced(data []byte) []byte {
	var compact, escaped bytes.Buffer
	if json.Compact(&compact, data) != nil {
		return data
	}
	json.HTMLEscape(&escaped, compact.Bytes())
	return escaped.Bytes()
}

// rest looks at what a pack holds besides rules and laws.
func (l *loader) rest() {
	for i := range l.pack.Authorised {
		a, path := &l.pack.Authorised[i], fmt.Sprintf("authorisations[%d]", i)
		if a.Basis == "" {
			l.complain(a.ID, path+".basis", "is missing: every authorisation cites")
		}
		for _, f := range Check(a, Known{}) {
			l.complain(a.ID, path+"."+f.Path, "%s", f.What)
		}
	}
	for i, c := range l.pack.Cautions {
		path := fmt.Sprintf("cautions[%d]", i)
		if c.Code == "" || c.Text == "" {
			l.complain(c.Code, path, "a caution needs a code and a text")
		}
		c.when = l.condition(c.Code, c.When, path+".when")
	}
}

func (l *loader) head() {
	p := l.pack
	for _, need := range [...]struct{ name, value string }{{"id", p.ID}, {"version", p.Version},
		{"jurisdiction", p.Jurisdiction}, {"reviewer", p.Reviewer}} {
		if need.value == "" {
			l.complain("", need.name, "is missing")
		}
	}
	if p.Sample && p.Notice == "" {
		l.complain("", "notice", "a sample pack must say that it is one")
	}
	if p.Jurisdiction != "" && p.Jurisdiction != "*" && !isCode(p.Jurisdiction) {
		l.complain("", "jurisdiction", "%q is neither * nor a code such as US or US-MI", p.Jurisdiction)
	}
	for _, w := range p.Calendar.Faults() {
		l.complain("", "calendar."+w.Path, "%s", w.What)
	}
	for _, name := range sorted(p.Roles) {
		if !holds(roleNames[:], name) {
			l.complain("", "roles."+name, "there is no role of this name")
		} else if p.Jurisdiction != "*" {
			l.complain("", "roles."+name, "only a pack for everywhere names rules for roles")
		}
	}
}

func (l *loader) condition(rule string, text json.RawMessage, path string) Condition {
	return parseCondition(text, path, func(path, what string) { l.complain(rule, path, "%s", what) })
}

func (l *loader) rule(r *Rule, path string) {
	id := string(r.ID)
	if id == "" {
		l.complain(id, path+".id", "is missing")
	}
	r.pack = l.pack
	if r.Layer == permits.LayerUnknown {
		l.complain(id, path+".layer", "is missing")
	}
	if r.Effect == permits.EffectUnknown {
		l.complain(id, path+".effect", "is missing")
	}
	l.dates(id, path, r.EffectiveFrom, r.EffectiveTo)
	if r.Weight < 0 {
		l.complain(id, path+".weight", "a number that is not negative is wanted")
	}
	if r.Because == "" {
		l.complain(id, path+".because", "the sentence for the salvager is missing")
	}
	l.cited(r, path)
	if len(r.When) == 0 && !r.Referred {
		l.complain(id, path+".when", "is missing, and the rule is not marked as referred to by a law")
	}
	switch r.IfUnknown {
	case "", "review", "skip", "apply":
	default:
		l.complain(id, path+".if_unknown", "is %q, not review, skip or apply", r.IfUnknown)
	}
	if r.IfUnknown == "skip" && r.Effect.Blocks() {
		l.complain(id, path+".if_unknown", "a rule that blocks may not be skipped because a fact is missing")
	}
	r.when = l.condition(id, r.When, path+".when")
	r.decides = l.condition(id, r.DecidesWhen, path+".decides_when")
	r.because = l.template(id, r.Because, path+".because")
	l.handled(r, path)
	r.when.facts(func(f Fact) { r.lateRule = r.lateRule || f.late() })
	if r.lateRule && r.Layer < permits.Duty {
		l.complain(id, path+".when", "asks for a fact that is only known when the authorities have been matched")
	}
	l.duties(r, path)
	if r.Contact != "" && l.pack.Contacts[r.Contact] == "" {
		l.complain(id, path+".contact", "the pack has no contact for %q", r.Contact)
	}
}

// handled looks at what a rule says of an animal that was already taken.
func (l *loader) handled(r *Rule, path string) {
	if r.BecauseInHand != "" {
		r.inHand = l.template(string(r.ID), r.BecauseInHand, path+".because_in_hand")
	}
	if r.InHand != permits.EffectUnknown && !r.InHand.Blocks() {
		l.complain(string(r.ID), path+".effect_in_hand", "a rule that blocks does not allow once the animal was taken")
	}
}

func (l *loader) dates(rule, path string, from, to permits.Date) {
	if reversed(from, to) {
		l.complain(rule, path+".effective_to", "it ends before it begins")
	}
}

func (l *loader) cited(r *Rule, path string) {
	if r.Cites == "" {
		l.complain(string(r.ID), path+".citation", "is missing: every rule cites")
	}
	if !holds(sourceStatuses, r.SourceStatus) {
		l.complain(string(r.ID), path+".source_status", "%q does not say how far the text was read", r.SourceStatus)
	}
	for _, s := range r.Sources {
		if l.pack.Sources[s] == "" {
			l.complain(string(r.ID), path+".sources", "the pack does not name source %q", s)
		}
	}
}

func (l *loader) template(rule, text, path string) template {
	t := parseTemplate(text)
	if i := strings.IndexAny(t[len(t)-1], "{}"); i >= 0 {
		l.complain(rule, path, "a brace is open or shut alone")
	}
	if len(t)/2 > mostWords {
		l.complain(rule, path, "asks for more than %d words to be filled in", mostWords)
	}
	for i := 1; i < len(t); i += 2 {
		if !holds(placeholders, t[i]) {
			l.complain(rule, path, "there is nothing to fill in for {%s}", t[i])
		}
	}
	return t
}

func (l *loader) duties(r *Rule, path string) {
	for i, d := range r.Duties {
		l.duty(string(r.ID), d, fmt.Sprintf("%s.duties[%d]", path, i))
	}
	for i, d := range r.InHandDuties {
		l.duty(string(r.ID), d, fmt.Sprintf("%s.duties_in_hand[%d]", path, i))
	}
}

func (l *loader) duty(rule string, d *DutyRule, path string) {
	if d.Code == "" {
		l.complain(rule, path+".code", "is missing")
	}
	l.severity(rule, d.Severity, path)
	l.clock(rule, &d.Due, path+".due", true)
	d.when = l.condition(rule, d.When, path+".when")
}

func (l *loader) clock(rule string, r *permits.DueRule, path string, mayBeNone bool) {
	if n := r.Clocks(); n > 1 || n == 0 && !mayBeNone {
		l.complain(rule, path, "has %d clocks; one is wanted", n)
	}
	if r.Negative() {
		l.complain(rule, path, "a number that is not negative is wanted")
	}
	switch r.Authority {
	case "", "deposit", "report":
	default:
		l.complain(rule, path+".authority", "%q is not something a permit says of its own: deposit or report", r.Authority)
	}
	if r.Anchor != "" && !holds(permits.Anchors, r.Anchor) {
		l.complain(rule, path+".anchor", "%q is not an anchor", r.Anchor)
	}
	if r.Else != nil {
		l.clock(rule, r.Else, path+".else", false)
	}
	for i := range r.Min {
		l.clock(rule, &r.Min[i], fmt.Sprintf("%s.min[%d]", path, i), false)
	}
	for i := range r.Max {
		l.clock(rule, &r.Max[i], fmt.Sprintf("%s.max[%d]", path, i), false)
	}
}

func (l *loader) law(w *Law, path string) {
	w.pack = l.pack
	if w.ID == "" || w.Failures.None == "" || len(w.Activities) == 0 {
		l.complain(w.ID, path, "a law needs an id, activities and failures.none")
	}
	if len(w.Covers) == 0 {
		l.complain(w.ID, path+".covers", "a law names at least one rule that tells how it is satisfied")
	}
	l.dates(w.ID, path, w.EffectiveFrom, w.EffectiveTo)
	if w.Failures.RenewalDays < 0 {
		l.complain(w.ID, path+".failures.renewal_days", "a number that is not negative is wanted")
	}
	if len(w.Applies) == 0 {
		l.complain(w.ID, path+".applies", "is missing: say to what the law applies")
	}
	w.applies = l.condition(w.ID, w.Applies, path+".applies")
	w.applies.facts(func(f Fact) {
		if f.late() {
			l.complain(w.ID, path+".applies", "asks for a fact that is only known afterwards")
		}
	})
	for i, c := range w.Covers {
		at := fmt.Sprintf("%s.covers[%d]", path, i)
		if c.Rule == "" || len(c.Kinds) == 0 && len(c.When) == 0 {
			l.complain(w.ID, at, "a cover needs a rule and either authority_kinds or a condition")
		}
		c.when = l.condition(w.ID, c.When, at+".when")
	}
}
