package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
)

// formOf writes a paper as a form shows it, with empty rows at the end.
func (t teller) formOf(a permits.Authority) url.Values {
	in := url.Values{"id": {a.ID}, "name": {a.Name}, "kind": {a.Kind}, "number": {a.Number}, "issuer": {a.Issuer}, "basis": {a.Basis},
		"jurisdiction": {a.Jurisdiction}, "holder": {a.Holder}, "status": {string(a.Status)}, "valid_from": {dayText(a.ValidFrom)}, "valid_to": {dayText(a.ValidTo)}, "ended": {dayText(a.Ended)},
		"area": {strings.Join(a.Area, "\n")}, "taxa_include": {t.typedTaxa(a.TaxaInclude, "\n")}, "taxa_exclude": {t.typedTaxa(a.TaxaExclude, "\n")},
		"activities": a.Activities, "forbids": a.Forbids, "materials": a.Materials, "causes": a.Causes, "covers_died_in_care": {careOf(a.CoverCare)},
		"repositories": {strings.Join(a.Repositories, "\n")}, "report_due": {monthDayText(a.ReportDue)}, "report_to": {a.ReportTo}, "depends_on": a.DependsOn}
	tick := func(name string, on bool) {
		if on {
			in.Set(name, "yes")
		}
	}
	tick("carry_copy", a.CarryCopy)
	tick("sample", a.Sample)
	tick("any_person", a.AnyPerson)
	for i, g := range a.Persons {
		n := strconv.Itoa(i)
		in.Set("person."+n, g.Person)
		in.Set("role."+n, g.Role)
		in.Set("from."+n, dayText(g.From))
		in.Set("to."+n, dayText(g.To))
	}
	for i, q := range a.Quotas {
		n := strconv.Itoa(i)
		in.Set("quota."+n, q.ID)
		in.Set("per."+n, q.Per)
		in.Set("taxa."+n, t.typedTaxa(q.Taxa, ", "))
		in.Set("units."+n, strings.Join(q.Units, ","))
		in.Set("window."+n, q.Window)
		tick("unlimited."+n, q.Unlimited)
		if !q.Unlimited {
			in.Set("limit."+n, strconv.Itoa(q.Limit))
		}
	}
	setCounts(in, len(a.Persons)+2, len(a.Quotas)+1)
	depositForm(in, a.DepositRule)
	return in
}

func setCounts(in url.Values, persons, quotas int) {
	in.Set(personRows, strconv.Itoa(persons))
	in.Set(quotaRows, strconv.Itoa(quotas))
}

// dayText writes a day with its month in letters, as it is typed too.
func dayText(d permits.Date) string { return catalogue.DayText(d.String()) }

func careOf(a permits.Answer) string {
	return map[permits.Answer]string{permits.Yes: "yes", permits.No: "no"}[a]
}

// depositForm writes a rule that the form can show; another stays as it is.
func depositForm(in url.Values, r *permits.DueRule) {
	if r == nil {
		return
	}
	parts := []permits.DueRule{*r}
	if len(r.Min) > 0 {
		parts = r.Min
	}
	for _, p := range parts {
		for unit, n := range map[string]int{"months": p.Months, "days": p.Days, "business_days": p.BusinessDays} {
			if n != 0 {
				in.Set("deposit_n", strconv.Itoa(n))
				in.Set("deposit_unit", unit)
				in.Set("deposit_anchor", p.Anchor)
			}
		}
		if p.MonthDay != 0 {
			in.Set("deposit_by", monthDayText(p.MonthDay))
		}
	}
}

func (t teller) typedTaxa(all []string, sep string) string {
	out := make([]string, len(all))
	for i, s := range all {
		if out[i] = t.taxon(s); t.selector(out[i]) != s {
			out[i] = s
		}
	}
	return strings.Join(out, sep)
}

// selector is what the rules call an animal or a group that somebody typed;
// what names nothing comes back as it was typed.
func (t teller) selector(text string) string {
	if t.list == nil {
		return text
	}
	if x := t.list.Taxon(text); x != nil {
		return x.Name
	}
	for i := range t.list.Taxa {
		for _, s := range t.list.Taxa[i].Selectors() {
			if strings.EqualFold(s, text) || strings.EqualFold(reports.Selector(s), text) {
				return s
			}
		}
	}
	return text
}

// stateCodes are the codes of states by their names, in small letters.
var stateCodes = func() map[string]string {
	out := map[string]string{}
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			code := "US-" + string(a) + string(b)
			if name := catalogue.StateText(code); name != code {
				out[strings.ToLower(name)] = code
			}
		}
	}
	return out
}()

func areaCode(text string) string {
	if code := stateCodes[strings.ToLower(text)]; code != "" {
		return code
	}
	return text
}

// read makes a paper of what was typed, over what the form does not show, and
// complains of what cannot be read.
func (f *paperForm) read(t teller, base permits.Authority) permits.Authority {
	a, in := base, f.In
	text := func(name string) string { return strings.TrimSpace(in.Get(name)) }
	a.Version, a.Name, a.Kind, a.Number, a.Issuer, a.Basis = 0, text("name"), text("kind"), text("number"), text("issuer"), text("basis")
	a.Jurisdiction, a.Holder, a.Status = areaCode(text("jurisdiction")), text("holder"), permits.Status(text("status"))
	a.ValidFrom, a.ValidTo, a.EffectiveFrom, a.Ended = f.day("valid_from"), f.day("valid_to"), f.day("effective_from"), f.day("ended")
	a.Area = mapped(lines(in.Get("area")), areaCode)
	a.TaxaInclude, a.TaxaExclude = mapped(lines(in.Get("taxa_include")), t.selector), mapped(lines(in.Get("taxa_exclude")), t.selector)
	a.Activities, a.Forbids, a.Materials, a.Causes, a.DependsOn = in["activities"], in["forbids"], in["materials"], in["causes"], in["depends_on"]
	a.CoverCare = map[string]permits.Answer{"yes": permits.Yes, "no": permits.No}[in.Get("covers_died_in_care")]
	a.CarryCopy, a.Sample, a.AnyPerson = in.Get("carry_copy") != "", in.Get("sample") != "", in.Get("any_person") != ""
	a.Repositories, a.ReportTo, a.ReportDue = strings.FieldsFunc(in.Get("repositories"), newline), text("report_to"), f.monthDay("report_due")
	a.Repositories = mapped(a.Repositories, strings.TrimSpace)
	if !a.Sample {
		a.Notice = ""
	}
	a.DepositRule = f.deposit(base.DepositRule)
	if f.fresh {
		if a.ID = text("id"); a.ID == "" {
			a.ID = shortName(a.Number)
		}
		if a.ID == "" {
			a.ID = shortName(a.Name)
		}
		if a.ID != shortName(a.ID) {
			f.complain("id", "a short name has only letters, digits and hyphens, such as %s", orElse(shortName(a.ID), "SC-4471"))
		}
	} else if !a.EffectiveFrom.Known() && len(f.Wrong["effective_from"]) == 0 {
		f.complain("effective_from", "say from which day this version counts")
	}
	f.check(t, &a, base)
	return a
}

// check holds the paper against everything that a paper must be.
func (f *paperForm) check(t teller, a *permits.Authority, base permits.Authority) {
	persons, quotas := f.persons(t, a, base), f.quotas(t, a, base)
	for _, x := range append(slices.Clone(a.Area), a.Jurisdiction) {
		code, _, _ := strings.Cut(x, " ")
		if strings.HasPrefix(code, "US-") && catalogue.StateText(code) == code {
			name := "area"
			if x == a.Jurisdiction {
				name = "jurisdiction"
			}
			f.complain(name, "%q is no state or territory of the United States", code)
		}
	}
	for _, id := range a.DependsOn {
		if !slices.ContainsFunc(f.rows, func(r reports.PermitRow) bool { return r.ID == id }) {
			f.complain("depends_on", "it depends on %q, which is not kept here; enter that paper first", id)
		}
	}
	if f.fresh && slices.ContainsFunc(f.rows, func(r reports.PermitRow) bool { return r.ID == a.ID }) {
		f.complain("id", "%q is taken by another paper; open that paper and amend it, or choose another name", a.ID)
	}
	for _, w := range rules.Check(a, rules.Known{Checklist: t.list}) {
		if name := fieldOf(w.Path, persons, quotas); len(f.Wrong[name]) == 0 {
			f.complain(name, "%s", w.What)
		}
	}
}

// fieldOf is the field of the form at which a path of the paper stands.
func fieldOf(path string, persons, quotas []int) string {
	head, rest, _ := strings.Cut(path, "[")
	number, member, _ := strings.Cut(rest, "]")
	n, _ := strconv.Atoi(number)
	member = strings.TrimPrefix(member, ".")
	if cut, _, ok := strings.Cut(member, "["); ok {
		member = cut
	}
	switch {
	case head == "persons" && n < len(persons):
		return map[string]string{"id": "person", "to": "to", "from": "from"}[member] + "." + strconv.Itoa(persons[n])
	case head == "quotas" && n < len(quotas):
		name := map[string]string{"id": "quota"}[member]
		return orElse(name, member) + "." + strconv.Itoa(quotas[n])
	case strings.HasPrefix(head, "deposit_rule"):
		return "deposit_n"
	}
	return head
}

// persons reads the rows of people and returns which row each one came from.
func (f *paperForm) persons(t teller, a *permits.Authority, base permits.Authority) (rows []int) {
	a.Persons = nil
	for i := range f.count(personRows) {
		n := strconv.Itoa(i)
		g := permits.Grant{Person: strings.TrimSpace(f.In.Get("person." + n)), Role: strings.TrimSpace(f.In.Get("role." + n)), From: f.day("from." + n), To: f.day("to." + n)}
		if g.Person == "" {
			if g.From.Known() || g.To.Known() {
				f.complain("person."+n, "say whose days these are")
			}
			continue
		}
		known := slices.ContainsFunc(base.Persons, func(b permits.Grant) bool { return b.Person == g.Person })
		for _, p := range f.crew {
			known = known || p.ID == g.Person
		}
		if !known {
			f.complain("person."+n, "nobody here is known as %q", g.Person)
		}
		for k, other := range a.Persons {
			if other.Person == g.Person && overlap(other, g) {
				f.complain("person."+n, "%s stands in row %d already for some of these days", t.person(g.Person), rows[k]+1)
			}
		}
		a.Persons, rows = append(a.Persons, g), append(rows, i)
	}
	return rows
}

func overlap(a, b permits.Grant) bool {
	return (a.To == 0 || b.From == 0 || b.From <= a.To) && (b.To == 0 || a.From == 0 || a.From <= b.To)
}

func (f *paperForm) quotas(t teller, a *permits.Authority, base permits.Authority) (rows []int) {
	a.Quotas = nil
	for i := range f.count(quotaRows) {
		n := strconv.Itoa(i)
		get := func(name string) string { return strings.TrimSpace(f.In.Get(name + "." + n)) }
		limit, unlimited := get("limit"), get("unlimited") != ""
		if get("quota") == "" && limit == "" && !unlimited {
			continue
		}
		q := permits.Quota{ID: get("quota"), Shared: "permit"}
		for _, old := range base.Quotas {
			if old.ID == q.ID {
				q = old
			}
		}
		q.Per, q.Window, q.Unlimited, q.Limit, q.Units = get("per"), get("window"), unlimited, 0, nil
		if q.Taxa = mapped(lines(get("taxa")), t.selector); len(q.Taxa) == 0 {
			q.Taxa = nil
		}
		if get("units") != "" {
			q.Units = strings.Split(get("units"), ",")
		}
		switch v, err := strconv.Atoi(limit); {
		case limit == "" && !unlimited:
			f.complain("limit."+n, "say how many, or tick that there is no ceiling")
		case limit != "" && (err != nil || v > 1e9):
			f.complain("limit."+n, "%q is no whole number", limit)
		default:
			q.Limit = v
		}
		a.Quotas, rows = append(a.Quotas, q), append(rows, i)
	}
	return rows
}

func (f *paperForm) deposit(old *permits.DueRule) *permits.DueRule {
	number, by := strings.TrimSpace(f.In.Get("deposit_n")), f.monthDay("deposit_by")
	shown := url.Values{}
	depositForm(shown, old)
	if same := shown.Get("deposit_n") == number && shown.Get("deposit_by") == monthDayText(by) &&
		(number == "" || shown.Get("deposit_unit") == f.In.Get("deposit_unit") && shown.Get("deposit_anchor") == f.In.Get("deposit_anchor")); same {
		return old // also a rule that the form cannot show
	}
	var parts []permits.DueRule
	if number != "" {
		n, err := strconv.Atoi(number)
		if err != nil || n < 1 {
			f.complain("deposit_n", "%q is no number of days or months", number)
			return nil
		}
		r := permits.DueRule{Anchor: f.In.Get("deposit_anchor")}
		switch f.In.Get("deposit_unit") {
		case "days":
			r.Days = n
		case "business_days":
			r.BusinessDays = n
		default:
			r.Months = n
		}
		parts = append(parts, r)
	}
	if by != 0 {
		parts = append(parts, permits.DueRule{MonthDay: by})
	}
	switch len(parts) {
	case 0:
		return nil
	case 1:
		return &parts[0]
	}
	return &permits.DueRule{Min: parts}
}

// days are the ways in which people write a day.
var days = []string{"2006-01-02", "2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006"}

func (f *paperForm) day(name string) permits.Date {
	text := strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ").Replace(f.In.Get(name))), " ")
	if text == "" {
		return 0
	}
	for _, form := range days {
		if at, err := time.Parse(form, text); err == nil {
			return permits.NewDate(at.Year(), int(at.Month()), at.Day())
		}
	}
	f.complain(name, "%q is no day of the calendar; write it as 31 Dec 2026 or 2026-12-31", f.In.Get(name))
	return 0
}

func (f *paperForm) monthDay(name string) permits.MonthDay {
	text := strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ").Replace(f.In.Get(name))), " ")
	if text == "" {
		return 0
	}
	for _, form := range []string{"01-02", "2 Jan", "2 January", "Jan 2", "January 2"} {
		if at, err := time.Parse(form, text); err == nil {
			if md, err := permits.ParseMonthDay(at.Format("01-02")); err == nil {
				return md
			}
		}
	}
	f.complain(name, "%q is no day of a year; write it as 31 Dec", f.In.Get(name))
	return 0
}

func newline(r rune) bool { return r == '\n' || r == '\r' }

func lines(text string) []string {
	return mapped(strings.FieldsFunc(text, func(r rune) bool { return newline(r) || r == ',' || r == ';' }), strings.TrimSpace)
}

// mapped applies do to every element and leaves out what becomes empty.
func mapped(all []string, do func(string) string) []string {
	out := []string{}
	for _, s := range all {
		if s = do(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// shortName keeps letters, digits and hyphens.
func shortName(text string) string {
	return strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case 'a' <= r && r <= 'z', 'A' <= r && r <= 'Z', '0' <= r && r <= '9', r == '-':
			return r
		case r == ' ', r == '/', r == '_', r == '.':
			return '-'
		}
		return -1
	}, text), "-")
}
