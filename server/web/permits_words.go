package web

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// teller says a paper in words: it knows the names of people, animals and
// other papers.
type teller struct {
	namer
	list   *permits.Checklist
	papers map[string]string
}

func (d *Desk) teller(ctx context.Context, rows []reports.PermitRow) teller {
	t := teller{d.namer(ctx, d.today()), d.Names, map[string]string{}}
	for _, r := range rows {
		t.papers[r.ID] = r.Name
	}
	return t
}

// paperLine is one thing a paper says, in one line or several.
type paperLine struct {
	Label string
	Lines []string
}

func (t teller) taxon(selector string) string {
	if t.list != nil {
		if x := t.list.Taxon(selector); x != nil {
			return x.English
		}
	}
	return reports.Selector(selector)
}

func (t teller) taxa(all []string) string { return listed(all, t.taxon) }

func (t teller) other(id string) string {
	if name := t.papers[id]; name != "" {
		return name + " (" + id + ")"
	}
	return id
}

func listed(all []string, word func(string) string) string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = word(s)
	}
	return strings.Join(out, ", ")
}

func labelOf(words []record.Word, code string) string {
	for _, w := range words {
		if w.Code == code {
			return w.Label
		}
	}
	return upperFirst(strings.ReplaceAll(code, "_", " "))
}

// labels are the words for some codes, in the order of the list.
func labels(words []record.Word, codes []string) string {
	place := func(code string) int {
		at := slices.IndexFunc(words, func(w record.Word) bool { return w.Code == code })
		if at < 0 {
			return len(words)
		}
		return at
	}
	codes = slices.Clone(codes)
	slices.SortStableFunc(codes, func(a, b string) int { return cmp.Compare(place(a), place(b)) })
	return lowerAfterFirst(listed(codes, func(c string) string { return labelOf(words, c) }))
}

// lowerAfterFirst makes one clause of labels that each begin with a capital.
func lowerAfterFirst(s string) string {
	parts := strings.Split(s, ", ")
	for i := 1; i < len(parts); i++ {
		parts[i] = strings.ToLower(parts[i][:1]) + parts[i][1:]
	}
	return strings.Join(parts, ", ")
}

// paper says what a paper allows: what, where, when, who, how many.
func (t teller) paper(a permits.Authority) []paperLine {
	var out []paperLine
	say := func(label string, lines ...string) {
		lines = slices.DeleteFunc(lines, func(s string) bool { return s == "" })
		if len(lines) > 0 {
			out = append(out, paperLine{label, lines})
		}
	}
	not := func(words string) string {
		if words == "" {
			return ""
		}
		return "Not: " + words
	}
	say("What it allows", labels(activityWords, a.Activities), not(labels(forbidWords, a.Forbids)))
	say("Which animals", t.taxa(a.TaxaInclude), not(t.taxa(a.TaxaExclude)), diedInCare(a.CoverCare))
	say("What of them", orElse(labels(record.Materials, a.Materials), "The paper does not limit it"))
	say("Causes of death", labels(record.Causes, a.Causes))
	say("Where", listed(a.Area, wordOf))
	say("When", upperFirst(spanText(a.ValidFrom, a.ValidTo)), since("Ended early on", a.Ended))
	say("Conditions", t.conditions(a)...)
	say("Numbers", t.quotas(a)...)
	say("Kind", labelOf(kindWords, a.Kind))
	say("Rests on", a.Basis)
	say("Holder", t.person(a.Holder))
	say("Issued by", a.Issuer, numberWords(a.Number))
	return out
}

func since(words string, day permits.Date) string {
	if !day.Known() {
		return ""
	}
	return words + " " + catalogue.DayText(day.String())
}

func numberWords(number string) string {
	if number == "" {
		return ""
	}
	return "Number " + number
}

func diedInCare(covers permits.Answer) string {
	switch covers {
	case permits.Yes:
		return "Animals that died in care are covered"
	case permits.No:
		return "Animals that died in care are not covered"
	}
	return ""
}

func (t teller) conditions(a permits.Authority) []string {
	var out []string
	if a.CarryCopy {
		out = append(out, "A copy is carried by everybody who acts under it")
	}
	if a.AnyPerson {
		out = append(out, "Anybody may act under it")
	}
	for _, id := range a.DependsOn {
		out = append(out, "Good only while "+t.other(id)+" is in force")
	}
	return out
}

func (t teller) quotas(a permits.Authority) []string {
	var out []string
	for _, q := range a.Quotas {
		out = append(out, t.quota(q))
	}
	return out
}

// quota says a number as a sentence without a stop: "at most 12 of each of
// Common Loon, whole animals, in a calendar year".
func (t teller) quota(q permits.Quota) string {
	what := "all together"
	switch {
	case q.Per == "taxon" && len(q.Taxa) == 0:
		what = "of each species"
	case q.Per == "taxon" && len(q.Taxa) > 1:
		what = "of each: " + t.taxa(q.Taxa)
	case len(q.Taxa) > 0:
		what = t.taxa(q.Taxa)
	}
	s := q.ID + ": "
	if q.Unlimited {
		s += "no ceiling for " + what
	} else {
		s += "at most " + strconv.Itoa(q.Limit) + " " + what
	}
	if len(q.Units) > 0 {
		s += ", " + strings.ToLower(labels(record.Materials, q.Units))
	}
	if kinds := q.Kinds(); kinds != "" {
		s += ", " + kinds
	}
	if len(q.ExemptTaxa) > 0 {
		s += ", but not " + t.taxa(q.ExemptTaxa)
	}
	s += ", " + strings.ToLower(labelOf(windowWords, q.Window))
	if n := q.Season; n != nil {
		s += " from " + dayOfYear(n.From) + " to " + dayOfYear(n.To)
	}
	s += map[string]string{permits.AtFind: ", counted when found", permits.AtPickUp: ", counted when picked up", permits.AtDeposit: ", counted when received"}[q.CountsWhen]
	if from := q.WarnsFrom(); from > 0 {
		s += "; from " + strconv.Itoa(from) + " on ask first"
	}
	return s
}

// dayOfYear writes a day of every year: 15 November.
func dayOfYear(md permits.MonthDay) string {
	return strings.TrimSuffix(md.In(2024).Long(), " 2024")
}

// duties says what a paper asks for.
func (t teller) duties(a permits.Authority) []paperLine {
	var out []paperLine
	if r := dueWords(a.DepositRule); r != "" {
		out = append(out, paperLine{"Hand over", []string{upperFirst(r)}})
	}
	if len(a.Repositories) > 0 {
		out = append(out, paperLine{"To", []string{strings.Join(a.Repositories, "; ")}})
	}
	if a.ReportDue != 0 {
		lines := []string{"Every year by " + monthDayText(a.ReportDue)}
		if a.ReportTo != "" {
			lines = append(lines, "To "+a.ReportTo)
		}
		out = append(out, paperLine{"Report", lines})
	}
	return out
}

// dueWords says when something is due: "within 6 months of the pick-up, and not
// later than 31 Dec of that year".
func dueWords(r *permits.DueRule) string {
	if r == nil {
		return ""
	}
	of := map[string]string{"": "the pick-up", "possessed": "the pick-up", "found": "the find", "expiry": "the end of the paper", "judged": "the answer"}[r.Anchor]
	switch {
	case r.Months != 0:
		return "within " + countOf(r.Months, "month", "months") + " of " + of
	case r.Days != 0:
		return "within " + countOf(r.Days, "day", "days") + " of " + of
	case r.BusinessDays != 0:
		return "within " + countOf(r.BusinessDays, "working day", "working days") + " of " + of
	case r.Hours != 0:
		return "within " + countOf(r.Hours, "hour", "hours") + " of " + of
	case r.MonthDay != 0:
		return "by " + monthDayText(r.MonthDay) + " of that year"
	case r.SameDay:
		return "on the same day"
	case r.Word != "":
		return r.Word
	case len(r.Min) > 0:
		return anyDue(r.Min) + ", whichever is first"
	case len(r.Max) > 0:
		return anyDue(r.Max) + ", whichever is last"
	}
	return "as the paper says"
}

func anyDue(all []permits.DueRule) string {
	var out []string
	for i := range all {
		out = append(out, dueWords(&all[i]))
	}
	return strings.Join(out, " or ")
}

func monthDayText(md permits.MonthDay) string {
	if md == 0 {
		return ""
	}
	text := catalogue.DayText(md.In(2024).String()) // a leap year has every day
	return strings.TrimSuffix(text, " 2024")
}

// edition is one version with what it changed and who entered it.
type edition struct {
	reports.Version
	Changes []change
	First   bool
	Entered Entered
}

// No is the number of the version; one that bears none is the first.
func (e edition) No() int { return max(e.Version.Version, 1) }

// editions says what changed from version to version; they come newest first.
func (t teller) editions(all []reports.Version, entered []Entered) []edition {
	var out []edition
	for i, v := range all {
		e := edition{Version: v, First: i == len(all)-1}
		if !e.First {
			e.Changes = t.changes(all[i+1].Authority, v.Authority)
		}
		for _, n := range entered {
			if n.Version == v.Version && n.From == v.Authority.From() {
				e.Entered = n
			}
		}
		out = append(out, e)
	}
	return out
}
