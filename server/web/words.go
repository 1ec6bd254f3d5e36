package web

import (
	"context"
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// shapeWords are the answers of the rules; every colour has a shape and a word.
var shapeWords = map[string]string{
	"take": "May be taken", "ask": "Ask first", "stop": "Leave it", "breach": "Without cover", "note": "Record only",
}

var outcomes = []record.Word{
	{Code: "take", Label: shapeWords["take"]}, {Code: "ask", Label: shapeWords["ask"]},
	{Code: "stop", Label: shapeWords["stop"]}, {Code: "breach", Label: shapeWords["breach"]}, {Code: "note", Label: shapeWords["note"]},
}

// drawings are the shapes: circle with a tick, diamond, octagon, square.
var drawings = map[string]template.HTML{
	"take":   `<svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><circle cx="9" cy="9" r="8.5" fill="currentColor"/><path d="M5 9.4l2.8 2.8 5.4-6" fill="none" stroke="var(--paper)" stroke-width="2"/></svg>`,
	"ask":    `<svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><path d="M9 .5L17.5 9 9 17.5.5 9z" fill="currentColor"/></svg>`,
	"stop":   `<svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><path d="M5.5.5h7l5 5v7l-5 5h-7l-5-5v-7z" fill="currentColor"/></svg>`,
	"breach": `<svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><path d="M6 1.2h6L16.8 6v6L12 16.8H6L1.2 12V6z" fill="none" stroke="currentColor" stroke-width="2"/><path d="M9 4.5v5.4M9 11.6v2" stroke="currentColor" stroke-width="2.2"/></svg>`,
	"note":   `<svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><rect x="2" y="2" width="14" height="14" rx="1.5" fill="currentColor"/></svg>`,
}

// mark draws a shape with a word behind it.
func mark(shape, word string) template.HTML {
	if _, known := drawings[shape]; !known {
		shape = "note"
	}
	class := "mark " + shape
	if word == "" {
		class += " bare"
	}
	return template.HTML(`<span class="`+class+`">`) + drawings[shape] + template.HTML(template.HTMLEscapeString(word)+`</span>`)
}

// plainWords are the functions of the templates that need nobody's name.
var plainWords = template.FuncMap{
	"mark":        mark,
	"notcounting": func(why permits.Decided) string { return notCounting[why] },
	"verdict": func(outcome string) template.HTML {
		if outcome == "" {
			return `<span class="quiet">no answer yet</span>`
		}
		return mark(outcome, shapeWords[outcome])
	},
	"outcome":  func(code string) string { return shapeWords[code] },
	"outcomes": func() []record.Word { return outcomes },
	"when":     catalogue.WhenText,
	"local":    catalogue.LocalText,
	"day":      func(d permits.Date) string { return catalogue.DayText(d.String()) },
	"month":    monthText,
	"monthonly": func(m string) string {
		name, _, _ := strings.Cut(catalogue.DayText(m), " ")
		return name
	},
	"span":      spanText,
	"coords":    catalogue.PlaceText,
	"label":     func(kind, field, code string) string { return catalogue.Label(record.Kind(kind), field, code) },
	"word":      wordOf,
	"words":     wordsOf,
	"names":     func(all []string) string { return orElse(strings.Join(all, ", "), "not limited") },
	"role":      func(r people.Role) string { return roleName(r) },
	"state":     stateOf,
	"count":     countOf,
	"lower":     strings.ToLower,
	"nbsp":      func(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") },
	"upper":     upperFirst,
	"sentence":  fullStop,
	"county":    countyBeside,
	"showtag":   showTag,
	"ints":      ints,
	"minus":     func(a, b int) int { return max(a-b, b-a) },
	"duties":    groupDuties,
	"weighty":   weighty,
	"mainly":    mainly,
	"same":      func(main *catalogue.Said, s catalogue.Said) bool { return main != nil && main.LSN == s.LSN },
	"under":     under,
	"rest":      restOfLine,
	"key":       gaugeKey,
	"roles":     func() []record.Word { return roleWords },
	"rolelabel": func(code string) string { return strings.ToLower(labelOf(roleWords, code)) },
	"standing":  paperState,
	"dict":      dict,
	"dispositions": func() []record.Word {
		return record.Dispositions
	},
	"parttypes": func() []record.Word { return record.PartTypes },
}

// namer gives people and devices their names.
type namer struct {
	people  map[string]string
	devices map[string]string
	today   permits.Date
	draw    func(record.Georeference) template.HTML
	zone    *time.Location // of the institution
}

func (d *Desk) namer(ctx context.Context, today permits.Date) namer {
	n := namer{people: map[string]string{"server": "the server"}, devices: map[string]string{d.Device: "at the desk"}, today: today, draw: d.drawing, zone: d.Zone}
	if all, err := d.Door.All(ctx); err == nil {
		for _, p := range all {
			n.people[p.ID] = p.Name
		}
	}
	if all, err := d.Door.Devices(ctx); err == nil {
		for _, dev := range all {
			n.devices[dev.ID] = dev.Name
		}
	}
	return n
}

func (n namer) words() template.FuncMap {
	return template.FuncMap{
		"person": n.person,
		"party": func(who string) string {
			switch who {
			case "":
				return "not written down"
			case catalogue.Here:
				return "the institution"
			}
			return n.person(who)
		},
		"clock":   n.clock,
		"told":    n.told,
		"speaker": n.speaker,
		"device":  func(id string) string { return orElse(n.devices[id], "a device that is not listed") },
		"dutydue": func(d catalogue.Duty) template.HTML { return dueMark(d.Due, n.today) },
		"outline": func(g record.Georeference) template.HTML { return n.draw(g) },
	}
}

// speaker is who said something and where. A phone that bears its owner's name
// names both.
func (n namer) speaker(s catalogue.Said) string {
	who, device := n.person(s.Who), n.devices[s.Device]
	switch {
	case s.Who == "server" || s.Device == "":
		return who
	case device == "":
		return who + ", a device that is not listed"
	case strings.HasPrefix(device, who):
		return device
	}
	return who + ", " + device
}

func (n namer) person(id string) string {
	if id == "" {
		return "somebody not named"
	}
	if name := n.people[id]; name != "" {
		return name
	}
	if strings.IndexFunc(id, func(r rune) bool { return !unicode.IsLetter(r) }) < 0 {
		return upperFirst(id) // a name that somebody wrote, of nobody listed
	}
	return id
}

// told writes a value: a person by name, a record as a link to its page.
func (n namer) told(f record.Field, s catalogue.Said) template.HTML {
	text := template.HTMLEscapeString(s.Text)
	switch {
	case text == "" || s.Text == "null":
		return `<span class="quiet">nothing</span>`
	case f.Personal && f.Shape == record.Text:
		return template.HTML(template.HTMLEscapeString(n.person(s.Text)))
	case f.Shape == record.Link && linkFolders[f.Name] != "":
		return template.HTML(`<a href="` + linkFolders[f.Name] + template.HTMLEscapeString(url.PathEscape(s.Text)) + `">open</a>`)
	}
	return template.HTML(text)
}

var linkFolders = map[string]string{"arrival": "/arrivals/", "same_as": "/animals/", "animal": "/animals/"}

func roleName(r people.Role) string {
	return map[people.Role]string{
		people.Salvager: "salvager", people.PermitOfficer: "permit officer", people.Registrar: "registrar",
		people.Preparator: "preparator", people.Reader: "reader",
	}[r]
}

func monthText(m string) string {
	if m == "" {
		return "month not known"
	}
	return catalogue.DayText(m)
}

func spanText(from, to permits.Date) string {
	f, t := catalogue.DayText(from.String()), catalogue.DayText(to.String())
	switch {
	case f == "" && t == "":
		return "no dates of its own"
	case f == "":
		return "until " + t
	case t == "":
		return "since " + f
	}
	return f + " to " + t
}

// clock writes a moment in the zone of whoever wrote it; what the server wrote
// in UTC is shown in the institution's time.
func (n namer) clock(ms int64, zone string) string {
	if ms != 0 && n.zone != nil && (zone == "+00:00" || zone == "") {
		zone = time.UnixMilli(ms).In(n.zone).Format("-07:00")
	}
	return clockText(ms, zone)
}

// clockText writes the wall clock of a device in its own zone.
func clockText(ms int64, zone string) string {
	if ms == 0 {
		return ""
	}
	at, suffix := time.UnixMilli(ms).UTC(), " UTC"
	if off, err := time.Parse("-07:00", zone); err == nil {
		_, seconds := off.Zone()
		if seconds != 0 {
			at, suffix = at.Add(time.Duration(seconds)*time.Second), " ("+strings.Replace(zone, "-", "−", 1)+")"
		}
	}
	return at.Format("2 Jan 2006, 15:04") + suffix
}

// dueText says how far away a due date is.
func dueText(due string, today permits.Date) string {
	if due == "" {
		return "no date"
	}
	if len(due) < 10 {
		return due
	}
	d, err := permits.ParseDate(due[:10])
	if err != nil || !today.Known() {
		return due
	}
	switch days := today.DaysUntil(d); {
	case days < 0:
		return countOf(-days, "day", "days") + " late"
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days <= 30:
		return "in " + strconv.Itoa(days) + " days"
	}
	return catalogue.DayText(due[:10])
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func stateOf(r catalogue.Row) string {
	switch {
	case r.Catalogue != "":
		return "in the catalogue"
	case len(r.Parts) > 0:
		return "prepared"
	case r.Preparation != "" && r.Disposition == "received":
		return "in preparation"
	case r.Disposition == "":
		return "not said where it is"
	}
	return catalogue.Label(record.Animal, "disposition", r.Disposition)
}

func wordOf(code string) string {
	if code == "*" {
		return "everywhere"
	}
	if words := reports.Selector(code); words != code {
		return words
	}
	return strings.ReplaceAll(catalogue.StateText(code), "_", " ")
}

func wordsOf(codes []string) string {
	if len(codes) == 0 {
		return "not limited"
	}
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = wordOf(c)
	}
	return strings.Join(out, ", ")
}

// showTag writes a tag in its groups, or as it was typed when it is not one.
func showTag(s string) string {
	if t, err := tag.Parse(s); err == nil {
		return t.String()
	}
	return s
}

func ints(list []int) string {
	out := make([]string, len(list))
	for i, n := range list {
		out[i] = strconv.Itoa(n)
	}
	return strings.Join(out, ", ")
}

// dict hands several values to a template by name.
func dict(pairs ...any) (map[string]any, error) {
	out := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		name, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("the name %v is not a word", pairs[i])
		}
		out[name] = pairs[i+1]
	}
	return out, nil
}

// countyBeside is the county, unless the words of the place name it already.
func countyBeside(place, county string) string {
	if county == "" || strings.Contains(place, county) {
		return ""
	}
	return county
}

// upperFirst makes a sentence of a clause.
func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// fullStop makes a whole sentence of a clause.
func fullStop(s string) string {
	s = upperFirst(strings.TrimSpace(s))
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?)") {
		return s
	}
	return s + "."
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
