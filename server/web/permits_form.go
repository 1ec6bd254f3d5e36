package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// The words of a paper, each with what a person reads.
var (
	kindWords = []record.Word{
		{Code: "special_purpose_salvage", Label: "Federal salvage permit"}, {Code: "state_salvage", Label: "State salvage permit"},
		{Code: "scientific_collecting", Label: "Collecting permit"}, {Code: "scientific_collecting_with_salvage", Label: "Collecting permit with salvage"},
		{Code: "state_collecting_with_salvage", Label: "State collecting permit with salvage"}, {Code: "utility", Label: "Utility permit"},
		{Code: "banding", Label: "Banding permit"}, {Code: "land_permission", Label: "Land permission"}, {Code: "stranding_agreement", Label: "Stranding agreement"},
		{Code: "collection_authority_least_concern", Label: "Collection authority, least concern"}, {Code: "regulation", Label: "Regulation without a number"},
		{Code: "official_duty", Label: "Official duty"}, {Code: "exempt_holder", Label: "Exempt holder"}, {Code: "licence", Label: "Licence"}, {Code: "agreement", Label: "Agreement"},
	}
	statusWords = []record.Word{
		{Code: "active", Label: "In force"}, {Code: "draft", Label: "Draft"}, {Code: "issued_unsigned", Label: "Issued, not signed yet"},
		{Code: "continued_pending_renewal", Label: "Continued while the renewal is decided"}, {Code: "suspended", Label: "Suspended"},
		{Code: "revoked", Label: "Revoked"}, {Code: "expired", Label: "Ended by its date"}, {Code: "surrendered", Label: "Given back"},
	}
	activityWords = []record.Word{
		{Code: "salvage", Label: "Pick up what is found dead"}, {Code: "possess", Label: "Hold"}, {Code: "transport", Label: "Carry"},
		{Code: "transfer", Label: "Hand over"}, {Code: "take", Label: "Take alive"}, {Code: "band", Label: "Band"}, {Code: "salvage_during_banding", Label: "Pick up what died while banding"},
		{Code: "prepare", Label: "Prepare"}, {Code: "sample", Label: "Take samples"}, {Code: "export", Label: "Export"}, {Code: "import", Label: "Import"},
	}
	forbidWords = []record.Word{
		{Code: "scientific_research", Label: "Scientific research"}, {Code: "systematic_collecting", Label: "Planned collecting"},
		{Code: "keep", Label: "Keeping"}, {Code: "sell", Label: "Selling"},
	}
	roleWords = []record.Word{
		{Code: "subpermittee", Label: "Named on the permit"}, {Code: "holder", Label: "Holder"}, {Code: "principal_officer", Label: "Responsible officer"},
		{Code: "employee", Label: "Employee"}, {Code: "agent", Label: "Agent"}, {Code: "monitor", Label: "Monitor"},
	}
	perWords    = []record.Word{{Code: "list", Label: "These animals, together"}, {Code: "taxon", Label: "Each species apart"}, {Code: "all", Label: "Everything together"}}
	windowWords = []record.Word{{Code: "calendar_year", Label: "In a calendar year"}, {Code: "permit_year", Label: "In a year of the permit"}, {Code: "permit_life", Label: "As long as the permit runs"}, {Code: "season", Label: "In its season"}, {Code: "event", Label: "On one day"}}
	dueUnits    = []record.Word{{Code: "months", Label: "months"}, {Code: "days", Label: "days"}, {Code: "business_days", Label: "working days"}}
	dueAnchors  = []record.Word{{Code: "", Label: "after the pick-up"}, {Code: "expiry", Label: "after the paper ends"}}
	unitWords   = []record.Word{{Code: "", Label: "Whatever the paper covers"}, {Code: "carcass", Label: "Whole animals only"}}
	careWords   = []record.Word{{Code: "", Label: "The paper does not say"}, {Code: "yes", Label: "Covered"}, {Code: "no", Label: "Not covered"}}
)

// paperForm is what was typed of a paper, and what is wrong with it by field.
type paperForm struct {
	In    url.Values
	Wrong map[string][]string
	crew  []people.Person
	rows  []reports.PermitRow
	fresh bool // a new paper
}

type formField struct {
	Name, Label, Help, Kind, Value string
	Words                          []record.Word
	On                             []string
	Wrong                          []string
}

// Has tells whether a box is ticked.
func (f formField) Has(code string) bool { return slices.Contains(f.On, code) }

type formRow struct {
	Title  string
	Fields []formField
}

type formGroup struct {
	ID, Title, Lede string
	Fields          []formField
	Rows            []formRow
	More            string // the word on the button that adds rows
}

const (
	personRows, quotaRows = "persons", "quotas" // how many rows a form has
	mostRows              = 300
)

func (f paperForm) count(name string) int {
	n, _ := strconv.Atoi(f.In.Get(name))
	return min(max(n, 0), mostRows)
}

func (f paperForm) field(kind, name, label, help string, words ...record.Word) formField {
	v := f.In.Get(name)
	if v == "" && (strings.HasPrefix(name, "per.") || strings.HasPrefix(name, "window.") || name == "deposit_unit") {
		v = words[0].Code
	}
	if kind == "choice" && !slices.ContainsFunc(words, func(w record.Word) bool { return w.Code == v }) {
		words = append(slices.Clone(words), record.Word{Code: v, Label: labelOf(nil, v)})
	}
	if kind == "checks" {
		for _, on := range f.In[name] {
			if !slices.ContainsFunc(words, func(w record.Word) bool { return w.Code == on }) {
				words = append(slices.Clone(words), record.Word{Code: on, Label: labelOf(nil, on)})
			}
		}
	}
	return formField{Name: name, Label: label, Help: help, Kind: kind, Value: v, Words: words, On: f.In[name], Wrong: f.Wrong[name]}
}

// Groups are the fields of the form in the order of the paper.
func (f paperForm) Groups() []formGroup {
	what := []formField{
		f.field("text", "name", "Name", "What people call it, without an article"), f.field("choice", "kind", "Kind of paper", "", kindWords...),
		f.field("text", "number", "Number on the paper", ""), f.field("text", "issuer", "Issued by", ""),
		f.field("text", "basis", "Law it rests on", ""), f.field("text", "jurisdiction", "Whose law", "A code such as US or US-MI, or the name of a state"),
		f.field("text", "holder", "Holder", "The institution or person the paper names"), f.field("choice", "status", "How it stands", "", statusWords...),
	}
	if f.fresh {
		what = append([]formField{f.field("text", "id", "Short name", "For links and files. Left empty, it is made from the number or the name")}, what...)
	}
	what = append(what, f.field("check", "carry_copy", "Everybody carries a copy", ""), f.field("check", "sample", "A sample, not a real paper", ""))
	counts := f.field("day", "effective_from", "This version counts from", "The day on which the amendment takes effect")
	if f.fresh {
		counts.Help = "Left empty: from its first day"
	}
	return []formGroup{
		{ID: "what", Title: "What it is", Fields: what},
		{ID: "when", Title: "When", Fields: []formField{f.field("day", "valid_from", "First day", "Such as 1 Jan 2026"), f.field("day", "valid_to", "Last day", "Empty: no end"), counts,
			f.field("day", "ended", "Ended early on", "Where it was suspended, revoked or given back before its last day")}},
		{ID: "where", Title: "Where", Fields: []formField{f.field("area", "area", "Where it reaches", "One on each line: a state’s name or code, a code with words for a piece of ground (US-MI Sable Point), or a kind of ground such as road authority")}},
		{ID: "who", Title: "Who", Lede: "Days such as 31 Dec 2026. Empty days: as long as the paper runs. To take somebody off for good, give a last day; a row without a person is left out.",
			Fields: []formField{f.field("check", "any_person", "Anybody may act under it", "")}, Rows: f.personFields(), More: "More rows for people"},
		{ID: "animals", Title: "What animals, what acts", Fields: []formField{
			f.field("area", "taxa_include", "Which animals", "One on each line: a species, a genus, a family, a group such as Birds"), f.field("area", "taxa_exclude", "But not", "One on each line"),
			f.field("checks", "activities", "What it allows", "", activityWords...), f.field("checks", "forbids", "What it forbids", "", forbidWords...),
			f.field("checks", "materials", "What of the animals", "None ticked: the paper does not limit it", record.Materials...),
			f.field("checks", "causes", "Causes of death", "None ticked: the paper does not limit it", record.Causes...),
			f.field("choice", "covers_died_in_care", "Died in care", "", careWords...)}},
		{ID: "numbers", Title: "Numbers", Lede: "A number is a ceiling. A row without a name and a number is left out.", Rows: f.quotaFields(), More: "More rows for numbers"},
		{ID: "duties", Title: "Duties", Fields: []formField{
			f.field("number", "deposit_n", "Hand over within", ""), f.field("choice", "deposit_unit", "Counted in", "", dueUnits...),
			f.field("choice", "deposit_anchor", "Counted from", "", dueAnchors...), f.field("text", "deposit_by", "And not later than", "A day of that year, such as 31 Dec"),
			f.field("area", "repositories", "Hand over to", "One on each line"), f.field("text", "report_due", "Yearly report due", "A day such as 31 Jan"),
			f.field("text", "report_to", "Report to", ""), f.field("checks", "depends_on", "Good only while these are in force", "", f.others()...)}},
	}
}

func (f paperForm) others() []record.Word {
	var out []record.Word
	for _, r := range f.rows {
		if r.ID != f.In.Get("id") {
			out = append(out, record.Word{Code: r.ID, Label: r.Name + " (" + r.ID + ")"})
		}
	}
	return out
}

func (f paperForm) personFields() []formRow {
	who := []record.Word{{Label: "nobody"}}
	for _, p := range f.crew {
		who = append(who, record.Word{Code: p.ID, Label: p.Name})
	}
	roles := append([]record.Word{{Label: "not stated"}}, roleWords...)
	var out []formRow
	for i := range f.count(personRows) {
		n := strconv.Itoa(i)
		out = append(out, formRow{"Person " + strconv.Itoa(i+1), []formField{
			f.field("choice", "person."+n, "Person", "", who...), f.field("choice", "role."+n, "Role", "", roles...),
			f.field("day", "from."+n, "From", ""), f.field("day", "to."+n, "To", "")}})
	}
	return out
}

func (f paperForm) quotaFields() []formRow {
	var out []formRow
	for i := range f.count(quotaRows) {
		n := strconv.Itoa(i)
		out = append(out, formRow{"Number " + strconv.Itoa(i+1), []formField{
			f.field("text", "quota."+n, "Name", ""), f.field("number", "limit."+n, "At most", ""), f.field("check", "unlimited."+n, "No ceiling", ""),
			f.field("choice", "per."+n, "What is counted", "", perWords...), f.field("text", "taxa."+n, "Which animals", "With commas between"),
			f.field("choice", "units."+n, "What of them", "", unitWords...), f.field("choice", "window."+n, "In which time", "", windowWords...)}})
	}
	return out
}

// Sentences are everything that is wrong, each with the field it stands at.
func (f paperForm) Sentences() []pair {
	var out []pair
	told := map[string]bool{}
	say := func(x formField, row string) {
		for _, w := range x.Wrong {
			out = append(out, pair{x.Name, strings.TrimSpace(row+" "+lowerFirst(x.Label, row != "")) + ": " + w})
		}
		told[x.Name] = true
	}
	for _, g := range f.Groups() {
		for _, x := range g.Fields {
			say(x, "")
		}
		for _, r := range g.Rows {
			for _, x := range r.Fields {
				say(x, r.Title+",")
			}
		}
	}
	for name, all := range f.Wrong {
		for _, w := range all {
			if !told[name] {
				out = append(out, pair{"", w})
			}
		}
	}
	return out
}

func lowerFirst(s string, do bool) string {
	if !do || s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// Hidden are all values of the form, to carry them through a page.
func (f paperForm) Hidden() []pair {
	var out []pair
	for name, all := range f.In {
		if name == "step" {
			continue
		}
		for _, v := range all {
			out = append(out, pair{name, v})
		}
	}
	slices.SortStableFunc(out, func(a, b pair) int { return strings.Compare(a.Name, b.Name) })
	return out
}

func (f *paperForm) complain(name, format string, args ...any) {
	if f.Wrong == nil {
		f.Wrong = map[string][]string{}
	}
	text := upperFirst(fmt.Sprintf(format, args...))
	if !slices.Contains(f.Wrong[name], text) {
		f.Wrong[name] = append(f.Wrong[name], text)
	}
}
