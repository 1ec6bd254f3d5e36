package web

import (
	"cmp"
	"html/template"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/server/catalogue"
)

// dutyGroups are duties by what is left to do.
type dutyGroups struct{ Open, Done, Void []catalogue.Duty }

// groupDuties puts the open duties first, the one due first on top, those
// without a day last.
func groupDuties(all []catalogue.Duty) dutyGroups {
	var g dutyGroups
	for _, d := range all {
		switch {
		case d.Done:
			g.Done = append(g.Done, d)
		case d.Void != "":
			g.Void = append(g.Void, d)
		default:
			g.Open = append(g.Open, d)
		}
	}
	slices.SortStableFunc(g.Open, func(x, y catalogue.Duty) int { return compareDue(x.Due, y.Due) })
	return g
}

// compareDue puts words such as "immediately" before days, and nothing last.
func compareDue(x, y string) int {
	rank := func(due string) int {
		switch {
		case due == "":
			return 2
		case due[0] >= '0' && due[0] <= '9':
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(rank(x), rank(y)), cmp.Compare(x, y))
}

// dueGroup is one thing to do for several animals.
type dueGroup struct {
	catalogue.Duty
	All []catalogue.Duty
}

// groupDue gathers what is asked for in the same words, the most pressing
// first.
func groupDue(all []catalogue.Duty) []dueGroup {
	var out []dueGroup
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(x, y catalogue.Duty) int { return compareDue(x.Due, y.Due) })
	for _, d := range all {
		at := slices.IndexFunc(out, func(g dueGroup) bool { return g.Text == d.Text })
		if at < 0 {
			out, at = append(out, dueGroup{Duty: d}), len(out)
		}
		out[at].All = append(out[at].All, d)
	}
	return out
}

// dueMark says how far away a due date is; what is late bears a shape and a
// word.
func dueMark(due string, today permits.Date) template.HTML {
	text := dueText(due, today)
	if strings.HasSuffix(text, " late") {
		return mark("stop", text)
	}
	return template.HTML(template.HTMLEscapeString(text))
}

// split are the findings of an answer: those that bear on it, and those that
// only say what follows.
type split struct{ Weighty, Notes []catalogue.Finding }

func weighty(all []catalogue.Finding) split {
	var s split
	for _, f := range all {
		if f.Outcome == "note" {
			s.Notes = append(s.Notes, f)
		} else {
			s.Weighty = append(s.Weighty, f)
		}
	}
	if s.Weighty == nil {
		return split{Weighty: s.Notes}
	}
	return s
}

// mainly is one saying of the save in which most of the facts were said, nil
// when no save holds three of them.
func mainly(facts []catalogue.Fact) *catalogue.Said {
	count := map[uint64]int{}
	var main *catalogue.Said
	for i := range facts {
		if facts[i].Differs {
			continue
		}
		for k := range facts[i].Said {
			s := &facts[i].Said[k]
			count[s.LSN]++
			if count[s.LSN] >= 3 && (main == nil || count[s.LSN] > count[main.LSN]) {
				main = s
			}
		}
	}
	return main
}

// under is the clause that names the papers of an answer, as a sentence; other
// reasons stand among the findings.
func under(gist string) string {
	if !strings.HasPrefix(gist, "under ") {
		return ""
	}
	return upperFirst(gist)
}

// restOfLine is what a line of a list says beyond its tag and the name that is
// shown already.
func restOfLine(written, tag, name string) string {
	rest := strings.TrimSpace(written)
	if shown := showTag(tag); tag != "" {
		if cut, ok := cutFold(rest, shown); ok {
			rest = cut
		} else if cut, ok := cutFold(rest, tag); ok {
			rest = cut
		}
	}
	if cut, ok := cutFold(rest, name); ok && name != "" {
		rest = cut
	}
	return strings.Trim(rest, " ,;.:-\t")
}

func cutFold(s, prefix string) (string, bool) {
	if len(s) < len(prefix) || !strings.EqualFold(s[:len(prefix)], prefix) {
		return s, false
	}
	return strings.TrimSpace(strings.TrimLeft(s[len(prefix):], " ,;.:-\t")), true
}
