package rules

import (
	"math/bits"
	"slices"

	"wayfall/permits"
)

// Way is one alternative inside a law: an authority that may cover the case,
// or a condition under which none is needed.
type Way struct {
	Rule permits.RuleID // the rule that is cited where this way is good
	// Says and Cites are that rule's own sentence and section.
	Says, Cites string
	Authority   *permits.Authority // nil: no authority is asked for
	Good        bool
	Chosen      bool // the one the verdict goes by: the first that is good, or else the nearest
	// Why are the law's own findings about what this way misses, the gravest
	// first; those that cannot be told are unsure. None where the way is good,
	// or where its condition simply does not hold.
	Why     []permits.Finding
	Numbers []Room // what is free of each number that concerns the case
}

// Room is what is used of one number that an authority states.
type Room struct {
	Quota, Per, Window string
	Taxon              string // for a number of each species apart
	Used, Left, Limit  int
	Known              bool // whether Used and Left can be told
}

// Weighed is one law as it bears on a case, with every alternative inside it.
type Weighed struct {
	Law, Title, Layer, Pack, Jurisdiction string

	Unsure  bool // whether it applies cannot be told
	Edge    bool // it is the law of one side of a line on which the case may not lie
	Covered bool
	Taxa    []*permits.Taxon // the plausible taxa to which it applies
	Ways    []Way
}

// Explain judges a case as Evaluate does, and says beside the verdict how each
// law that applies was weighed. The verdict is that of Evaluate; what is said
// beside it comes from the same matching and decides nothing.
func (b *Book) Explain(c *Case, reg *Register) (permits.Verdict, []Weighed) {
	again := *c
	v := b.Evaluate(c, reg)
	e := &evaluation{book: b, reg: reg, c: &again}
	again.prepare()
	e.place()
	var out []Weighed
	for i := range e.packs {
		for _, w := range e.packs[i].Laws {
			if l, applies := e.weighLaw(i, w); applies {
				out = append(out, l)
			}
		}
	}
	return v, out
}

func (e *evaluation) weighLaw(pack int, w *Law) (Weighed, bool) {
	if !does(w.Activities, e.c.Activity) || !e.inForce(w.EffectiveFrom, w.EffectiveTo) {
		return Weighed{}, false
	}
	taxa, applies := e.subject(w)
	if applies == False || len(taxa) == 0 {
		return Weighed{}, false
	}
	p := e.packs[pack]
	out := Weighed{Law: w.ID, Title: w.Title, Layer: w.Layer, Pack: p.ID, Jurisdiction: p.Jurisdiction,
		Unsure: applies == CannotTell, Edge: !p.sure, Taxa: taxa}
	m := matching{c: e.c, reg: e.reg, law: w, taxa: taxa}
	chosen, cost := -1, 1<<20
	for _, cover := range w.Covers {
		if len(cover.Kinds) == 0 {
			out.Ways = append(out.Ways, e.condition(w, cover))
			if out.Ways[len(out.Ways)-1].Good && !out.Covered {
				chosen, out.Covered = len(out.Ways)-1, true
			}
			continue
		}
		for _, kind := range cover.Kinds {
			for _, id := range e.reg.byKind[kind] {
				a := e.candidate(id)
				if a == nil {
					continue
				}
				f := m.match(a, cover)
				out.Ways = append(out.Ways, e.way(&m, f))
				switch n := e.distance(&f); {
				case out.Covered:
				case f.good():
					chosen, out.Covered = len(out.Ways)-1, true
				case n < cost:
					chosen, cost = len(out.Ways)-1, n
				}
			}
		}
	}
	if chosen >= 0 {
		out.Ways[chosen].Chosen = true
	}
	return out, true
}

// condition weighs a cover that asks for no authority.
func (e *evaluation) condition(w *Law, cover *Cover) Way {
	f := fit{cover: cover}
	out := e.says(f)
	switch cover.when.Eval(&e.c.In) {
	case True:
		out.Good = true
	case CannotTell:
		out.Why = []permits.Finding{e.entry(w.fails[missNone], permits.Asks, true, cover.when.missing(&e.c.In, nil), f).Finding}
	}
	return out
}

func (e *evaluation) says(f fit) Way {
	said := e.entry(f.cover.rule, f.cover.rule.Effect, false, nil, f)
	return Way{Rule: f.cover.Rule, Says: said.Because, Cites: said.Cites, Authority: f.authority}
}

// way weighs one authority.
func (e *evaluation) way(m *matching, f fit) Way {
	out := e.says(f)
	out.Good = f.good()
	for left := f.misses; left != 0; left &= left - 1 {
		r := m.law.fails[bits.TrailingZeros16(left)]
		out.why(e.entry(r, r.Effect, false, nil, f).Finding)
	}
	for left := f.unsure; left != 0 && f.misses == 0; left &= left - 1 {
		out.why(e.entry(m.law.fails[bits.TrailingZeros16(left)], permits.Asks, true, f.missing, f).Finding)
	}
	if f.misses&^(1<<missQuota) == 0 {
		out.Numbers = m.numbers(f.authority)
	}
	return out
}

// why adds a finding that says something new.
func (w *Way) why(f permits.Finding) {
	if !slices.ContainsFunc(w.Why, func(o permits.Finding) bool { return o.Because == f.Because }) {
		w.Why = append(w.Why, f)
	}
}

// numbers states what is used of each number that concerns the case.
func (m *matching) numbers(a *permits.Authority) []Room {
	var out []Room
	for i := range a.Quotas {
		q := &a.Quotas[i]
		if q.Unlimited || q.Concerns(m.c.Material, &m.c.Traits) == permits.No {
			continue
		}
		for _, t := range m.counted(q) {
			n := Room{Quota: q.ID, Per: q.Per, Window: q.Window, Limit: q.Limit}
			if m.c.Tally != nil && m.c.at.Known() {
				n.Used, n.Left, n.Known = m.c.Tally.Used(a, q, t.Name, m.c.at.From.Date)
			}
			if q.Per == "taxon" {
				n.Taxon = t.English
			}
			out = append(out, n)
			if q.Per != "taxon" {
				break
			}
		}
	}
	return out
}
