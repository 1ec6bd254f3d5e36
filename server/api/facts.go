package api

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
	"wayfall/sync/record"
)

// factsBody is a visit whose facts a program states for itself.
type factsBody struct {
	Finds []screen.Facts `json:"finds"`
	Used  *quota.Fixed   `json:"used"`
}

// mostFinds is how many finds one visit may hold here.
const mostFinds = 200

// sayable is what a fact may be, where it is one of a few words. A word that
// no rule knows would pass every rule by, so it is refused.
var sayable = map[string][]string{
	"role":            {"public", "volunteer", "staff", "holder"},
	"activity":        {"salvage", "transfer", "receive", "hold", "store", "transport", "export", "import", "year_end"},
	"band":            {"none", "federal", "federal metal band", "colour marks", "club ring"},
	"material":        codes(record.Materials, "nest", "egg", "bone", "tooth", "skull", "ivory", "tissue", "mount", "study_skin"),
	"cause":           codes(record.Causes),
	"land_manager":    managers,
	"storage_manager": managers,
}

var managers = codes(record.Managers, "national park service", "national wildlife refuge", "tribe")

func codes(list []record.Word, more ...string) []string {
	var out []string
	for _, w := range list {
		out = append(out, w.Code)
	}
	return append(out, more...)
}

type verdictsOut struct {
	Verdicts []permits.Verdict `json:"verdicts"`
}

// FactsVerdict answers facts that a program states for itself, among them acts
// that no report tells of: a hand-over, a loan abroad, the end of a year.
// Nothing is kept.
func (a *API) FactsVerdict(c echo.Context) error {
	body, err := read(c, limitJSON, "application/json")
	if err != nil {
		return err
	}
	asked, err := facts(body)
	if err != nil {
		return err
	}
	now := a.now().In(a.Zone)
	for i := range asked.Finds {
		if f := &asked.Finds[i]; !f.JudgedAt.Known() {
			f.JudgedAt = a.today().At(now.Hour(), now.Minute())
		}
	}
	out, err := a.Desk.Asked(c.Request().Context(), asked.Finds, asked.Used)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, verdictsOut{out})
}

// facts reads a visit strictly: every place that cannot be meant is named.
func facts(body []byte) (factsBody, error) {
	var loose struct {
		Finds []map[string]json.RawMessage `json:"finds"`
	}
	var wrong []Wrong
	if json.Unmarshal(body, &loose) == nil {
		for i, f := range loose.Finds {
			wrong = append(wrong, unreadable(fmt.Sprintf("/finds/%d/", i), f)...)
		}
	}
	var asked factsBody
	if len(wrong) == 0 {
		if err := strict(body, &asked); err != nil {
			return asked, err
		}
		if n := len(asked.Finds); n < 1 || n > mostFinds {
			wrong = append(wrong, Wrong{"/finds", fmt.Sprintf("a visit has 1 to %d finds, not %d", mostFinds, n)})
		}
		for i := range asked.Finds {
			wrong = append(wrong, unmeant(fmt.Sprintf("/finds/%d/", i), &asked.Finds[i])...)
		}
		if asked.Used != nil {
			wrong = append(wrong, miscounted(*asked.Used)...)
		}
	}
	if len(wrong) == 0 {
		return asked, nil
	}
	p := problem(http.StatusUnprocessableEntity, "invalid", "%d facts cannot be meant as they are", len(wrong))
	if len(wrong) == 1 {
		p.Detail = wrong[0].Detail
	}
	p.Errors = wrong
	return asked, p
}

// unreadable names the members whose value is none of those the fact takes:
// an answer that is a text, a day that is not in the calendar.
func unreadable(at string, find map[string]json.RawMessage) []Wrong {
	var out []Wrong
	for _, name := range slices.Sorted(maps.Keys(find)) {
		one, err := json.Marshal(map[string]json.RawMessage{name: find[name]})
		if err == nil {
			err = json.Unmarshal(one, new(screen.Facts))
		}
		if err != nil {
			out = append(out, Wrong{at + name, strings.TrimPrefix(strings.TrimPrefix(err.Error(), "json: "), "invalid ")})
			continue
		}
		var word string
		if list := sayable[name]; list != nil && json.Unmarshal(find[name], &word) == nil && word != "" && !slices.Contains(list, word) {
			out = append(out, Wrong{at + name, fmt.Sprintf("%q is none of %s", word, strings.Join(list, ", "))})
		}
	}
	return out
}

// unmeant names facts that can be read and yet cannot be.
func unmeant(at string, f *screen.Facts) []Wrong {
	var out []Wrong
	say := func(bad bool, name, what string) {
		if bad {
			out = append(out, Wrong{at + name, what})
		}
	}
	reversed := func(w permits.When) bool { return w.From.Known() && w.To.Known() && w.To.Before(w.From) }
	say(reversed(f.Found), "found", "it ends before it begins")
	say(reversed(f.Possessed), "possessed", "it ends before it begins")
	say((f.Activity == "" || f.Activity == "salvage") && f.Found.Known() && f.Possessed.Known() && f.Possessed.To.Before(f.Found.From), "possessed", "it was taken before it was found")
	say(f.Count < 0, "count", "a count is never negative")
	say(f.EventCount < 0, "event_carcass_count", "a count is never negative")
	say(f.OfflineDevices < 0, "offline_devices", "a count is never negative")
	say(f.ActivityCount != nil && *f.ActivityCount < 0, "activity_count", "a count is never negative")
	say(f.ShoreMetres != nil && *f.ShoreMetres < 0, "distance_to_shore_m", "a distance is never negative")
	for i, code := range f.Jurisdictions {
		say(!placeCode(code), fmt.Sprintf("jurisdictions/%d", i), fmt.Sprintf("%q is no code of ISO 3166 such as US-MI or GB", code))
	}
	for i, code := range f.JurisdictionsPossible {
		say(!placeCode(code), fmt.Sprintf("jurisdictions_possible/%d", i), fmt.Sprintf("%q is no code of ISO 3166 such as US-MI or GB", code))
	}
	return out
}

// placeCode tells whether a code has the form of a country of ISO 3166-1 or a
// part of one of ISO 3166-2.
func placeCode(s string) bool {
	country, part, parted := strings.Cut(s, "-")
	in := func(s, low, high string) bool {
		return strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"+low) == "" && s != "" && len(s) <= len(high)
	}
	return len(country) == 2 && in(country, "", "xx") && (!parted || in(part, "0123456789", "xxx"))
}

func miscounted(used quota.Fixed) []Wrong {
	var out []Wrong
	for i, u := range used {
		if u.Used < 0 {
			out = append(out, Wrong{fmt.Sprintf("/used/%d/used", i), "a count is never negative"})
		}
		if u.Authority == "" || u.Quota == "" {
			out = append(out, Wrong{fmt.Sprintf("/used/%d", i), "it names an authority and one of its numbers"})
		}
	}
	return out
}
