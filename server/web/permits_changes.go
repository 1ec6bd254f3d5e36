package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
)

// change is one thing that two versions of a paper say differently.
type change struct {
	What          string
	Before, After []string
}

// changes says in words what differs between two versions.
func (t teller) changes(old, next permits.Authority) []change {
	var out []change
	before, after := t.whole(old), t.whole(next)
	for _, label := range labelsOf(before, after) {
		was, is := linesOf(before, label), linesOf(after, label)
		if slices.Equal(was, is) {
			continue
		}
		out = append(out, change{label, without(was, is), without(is, was)})
	}
	return out
}

// whole is everything a paper says, persons and standing included.
func (t teller) whole(a permits.Authority) []paperLine {
	out := []paperLine{{"Name", []string{a.Name}}, {"How it stands", []string{labelOf(statusWords, string(a.Status))}}}
	out = append(append(out, t.paper(a)...), t.duties(a)...)
	var people []string
	for _, g := range a.Persons {
		people = append(people, t.grant(g))
	}
	if a.Sample {
		out = append(out, paperLine{"Sample", []string{"It is a sample, not a real paper"}})
	}
	return append(out, paperLine{"People", people})
}

func (t teller) grant(g permits.Grant) string {
	s := t.person(g.Person)
	if g.Role != "" {
		s += ", " + strings.ToLower(labelOf(roleWords, g.Role))
	}
	if g.From.Known() || g.To.Known() {
		return s + ", " + spanText(g.From, g.To)
	}
	return s + ", as long as the paper runs"
}

func labelsOf(lists ...[]paperLine) []string {
	var out []string
	for _, l := range lists {
		for _, p := range l {
			if !slices.Contains(out, p.Label) {
				out = append(out, p.Label)
			}
		}
	}
	return out
}

func linesOf(all []paperLine, label string) []string {
	for _, p := range all {
		if p.Label == label {
			return p.Lines
		}
	}
	return nil
}

func without(lines, other []string) []string {
	var out []string
	for _, l := range lines {
		if l != "" && !slices.Contains(other, l) {
			out = append(out, l)
		}
	}
	return out
}

// amendment is what somebody wants to enter, and what stands now.
type amendment struct {
	old, next permits.Authority
	sheet     reports.PermitSheet
	shares    []Share
	rows      []reports.PermitRow
	today     permits.Date
}

// follows says what an amendment brings with it, in sentences: nothing of it
// is forbidden, all of it should be known before saving.
func (t teller) follows(a amendment) []string {
	out := t.followsFromDates(a)
	for _, b := range a.sheet.Balances {
		out = append(out, t.followsFromNumber(a, b)...)
	}
	return append(out, t.followsForPeople(a)...)
}

func (t teller) followsFromDates(a amendment) []string {
	var out []string
	day := func(d permits.Date) string { return catalogue.DayText(d.String()) }
	switch from := a.next.From(); {
	case from > a.today:
		out = append(out, "Until "+day(from)+" the version now in force stays in force.")
	case from.Known() && from < a.today:
		out = append(out, "It counts from "+day(from)+", before today: what was picked up since then is judged anew, and the earlier answers stay on record.")
	}
	for _, v := range a.sheet.Versions {
		if v.From > a.next.From() {
			out = append(out, fmt.Sprintf("Version %d is entered already and counts from %s. From that day it stands as it is; amend it too if this is to last.", max(v.Version, 1), day(v.From)))
		}
	}
	stops := a.old.InForce(a.today) == permits.Yes && a.next.Status != a.old.Status && a.next.InForce(cmp.Or(max(a.next.From(), a.today), a.today)) != permits.Yes
	if stops {
		out = append(out, "From then on nobody may act under it: what is picked up is not covered by it.")
		for _, r := range a.rows {
			if slices.Contains(r.DependsOn, a.next.ID) {
				out = append(out, r.Name+" is good only with this paper, so it stops too.")
			}
		}
	}
	if to := a.next.ValidTo; to.Known() && (!a.old.ValidTo.Known() || to < a.old.ValidTo) {
		out = append(out, "It ends earlier: what is picked up after "+day(to)+" is not covered by it.")
	}
	return out
}

func (t teller) followsFromNumber(a amendment, b reports.Balance) []string {
	at := slices.IndexFunc(a.next.Quotas, func(q permits.Quota) bool { return q.ID == b.Quota })
	name := strings.TrimSuffix(b.Name+", "+b.Window, ", ")
	if at < 0 {
		return []string{"No number is stated any more for " + name + ". " + upperFirst(countOf(b.Used+b.Over, "animal", "animals")) + " taken so far; nothing limits the next."}
	}
	limit, taken := a.next.Quotas[at].Limit, b.Used+b.Over
	if a.next.Quotas[at].Unlimited || !b.Unlimited && limit >= b.Limit {
		return nil
	}
	var out []string
	if taken > limit {
		out = append(out, fmt.Sprintf("%s: %d taken already, so %d stand over the new number of %d. They stay on record; tell the issuing office, and note what it answered.", name, taken, taken-limit, limit))
	}
	if beyond := b.Lent - max(0, limit-taken); b.Lent > 0 && beyond > 0 {
		row := t.numbers(a.sheet.ID, []reports.Balance{b}, a.shares)[0]
		out = append(out, fmt.Sprintf("%s: %d lent to phones that may be out of reach (%s). Lent shares are never called back, so up to %d more may come in over the new number of %d.", name, b.Lent, row.LentWords(), beyond, limit))
	}
	return out
}

// followsForPeople names those who may no longer act and still hold shares.
func (t teller) followsForPeople(a amendment) []string {
	var out []string
	day := cmp.Or(max(a.next.From(), a.today), a.today)
	told := map[string]bool{}
	for _, g := range a.old.Persons {
		if told[g.Person] || !a.old.Lists(g.Person, a.today) || a.next.Lists(g.Person, day) {
			continue
		}
		told[g.Person] = true
		s := t.person(g.Person) + " may not act under it from " + catalogue.DayText(day.String()) + " on"
		n := 0
		for _, sh := range a.shares {
			if sh.Authority == a.sheet.ID && sh.Person == g.Person {
				n += sh.Left
			}
		}
		if n > 0 {
			s += ", and still holds " + countOf(n, "unit", "units") + " on a phone, which stay counted until they are given back"
		}
		out = append(out, s+".")
	}
	return out
}
