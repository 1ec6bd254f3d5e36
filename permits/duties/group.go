package duties

import (
	"cmp"
	"slices"

	"wayfall/permits"
)

// Heap is duties that are the same but for their subject: one letter, one
// call or one sitting settles them all.
type Heap struct {
	Code string         `json:"code"`
	To   string         `json:"to,omitempty"`
	Note string         `json:"note,omitempty"`
	Rule permits.RuleID `json:"rule"`
	// Severity is what stands behind them.
	Severity  permits.Severity `json:"severity,omitempty"`
	Authority string           `json:"authority,omitempty"`
	By        permits.Moment   `json:"by,omitzero"`
	Word      string           `json:"word,omitempty"` // of a law that gives no number
	Own       bool             `json:"own_setting,omitempty"`
	State     State            `json:"state"` // Open or Late
	Duties    []Duty           `json:"duties"`
	Persons   []Share          `json:"persons,omitempty"`
}

// Share is how many duties of a heap are one person's.
type Share struct {
	Person string `json:"person"`
	Count  int    `json:"count"`
}

// key is what duties of one heap have in common. Those that fall due on other
// days, or that only some are late with, are other heaps: a person works by
// days.
type key struct {
	code, to, note, authority, word string
	rule                            permits.RuleID
	by                              permits.Moment
	own                             bool
	state                           State
	severity                        permits.Severity
}

// Group gathers what is not settled at the moment into heaps of equal duties,
// so that a person can act on each: what a law asks for before what a paper does
// and what is advice, then late ones first, then by day, those without a day
// last; of one day the larger heap first. The duties of a heap
// stand in the order of their subjects. The list that is handed in stays as it
// is.
func Group(list []Duty, now permits.Moment) []Heap {
	at := map[key]int{}
	var out []Heap
	for i := range list {
		d := &list[i]
		state := d.State(now)
		if state != Open && state != Late {
			continue
		}
		k := key{d.Code, d.To, d.Note, d.Authority, d.Due.Word, d.Rule, d.By, d.Own, state, d.Severity}
		n, ok := at[k]
		if !ok {
			n = len(out)
			at[k] = n
			out = append(out, Heap{Code: d.Code, To: d.To, Note: d.Note, Rule: d.Rule, Authority: d.Authority, By: d.By,
				Word: d.Due.Word, Own: d.Own, State: state, Severity: d.Severity})
		}
		out[n].Duties = append(out[n].Duties, *d)
	}
	for i := range out {
		out[i].settle()
	}
	slices.SortStableFunc(out, before)
	return out
}

// settle orders the duties of a heap and counts whose they are, who has most
// first.
func (h *Heap) settle() {
	slices.SortStableFunc(h.Duties, func(a, b Duty) int { return cmp.Compare(a.Subject, b.Subject) })
	for i := range h.Duties {
		p := h.Duties[i].Person
		if p == "" {
			continue
		}
		n := slices.IndexFunc(h.Persons, func(s Share) bool { return s.Person == p })
		if n < 0 {
			n, h.Persons = len(h.Persons), append(h.Persons, Share{Person: p})
		}
		h.Persons[n].Count++
	}
	slices.SortFunc(h.Persons, func(a, b Share) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Person, b.Person))
	})
}

func before(a, b Heap) int {
	none := func(h *Heap) int {
		if h.By.Known() {
			return 0
		}
		return 1
	}
	day := 0
	switch {
	case a.By.Before(b.By):
		day = -1
	case b.By.Before(a.By):
		day = 1
	}
	return cmp.Or(cmp.Compare(a.Severity.Weight(), b.Severity.Weight()), -cmp.Compare(a.State, b.State), cmp.Compare(none(&a), none(&b)), day, cmp.Compare(len(b.Duties), len(a.Duties)),
		cmp.Compare(a.Code, b.Code), cmp.Compare(a.To, b.To), cmp.Compare(a.Authority, b.Authority), cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Note, b.Note))
}
