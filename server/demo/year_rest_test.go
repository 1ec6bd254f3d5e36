package demo_test

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"
)

// What the year says beyond counts of animals, again from the raw log: what
// came and went, by day and hand; duties that are late; what was held before
// and after; and how each number of the paper stands.

// rest adds the other numbers of a paper's year to those of recount.
func rest(p rawPaper, year, today string, takes []*rawTake, class map[string]string, n map[string]int) {
	undated := 0
	for _, k := range takes {
		if !k.under(p.ID) || k.deed != "taken" {
			continue
		}
		house := slices.Contains([]string{"", "private_freezer", "received"}, k.place) && k.material == "carcass"
		switch {
		case house && k.day == "":
			undated++
		case house && k.day[:4] < year:
			n["held before"]++
		case house && k.day[:4] == year:
			n["held after"]++
		}
		k.came(year, n)
		if k.day == "" || k.day[:4] == year {
			if k.place == "agency" {
				n["given to agencies"]++
			}
			k.late(today, n)
		}
	}
	n["held after"] += n["held before"] + undated
	for _, l := range p.Persons {
		if _, listed := n["by "+l.ID]; listed && n["by "+l.ID] == 0 {
			n["nothing by "+l.ID] = 1
		}
	}
	p.stands(year, takes, class, n)
}

// came counts what was handed over in the year.
func (k *rawTake) came(year string, n map[string]int) {
	for _, h := range k.handed {
		mine := k.day == "" || k.day[:4] == year
		if h.Day != "" && h.Day[:4] != year || h.Day == "" && !mine {
			continue
		}
		if h.To == "the institution" {
			n["came in on "+h.Day]++
		} else {
			n["given away on "+h.Day+" to "+h.To]++
		}
	}
}

// late counts the duties of the animal that were due before today and are
// open, or were done after their day, each once however many told of it.
func (k *rawTake) late(today string, n map[string]int) {
	type duty struct{ code, due, done string }
	seen := map[string]duty{}
	for _, r := range k.told {
		for _, d := range dutiesOf(r, k.day) {
			day := d.due
			switch done := k.done(r, d.code); {
			case done == "void":
				continue
			default:
				d.done = done
			}
			key := d.code + "|" + d.to
			if was, ok := seen[key]; ok && (was.done != "" || d.done == "" && was.due <= day) {
				continue
			}
			seen[key] = duty{d.code, day, d.done}
		}
	}
	for _, d := range seen {
		if d.done == "" && d.due < today || d.done != "" && len(d.done) >= 10 && d.done[:10] > d.due {
			n["late "+d.code+" of "+d.due]++
		}
	}
}

type rawDuty struct{ code, due, to, done string }

// dutiesOf are the duties with a day of the report's newest verdict. Where the
// law says at once the day is that of the find, and where it says promptly a
// week later, as the institution set it.
func dutiesOf(r *rawRecord, found string) (out []rawDuty) {
	for _, raw := range r.adds["verdicts"] {
		var v struct {
			Outcome     string
			Obligations []struct {
				Code, To, Note string
				Due            struct{ At, Word string }
			}
		}
		if json.Unmarshal(raw, &v) != nil || v.Outcome == "" {
			continue
		}
		out = out[:0]
		for _, o := range v.Obligations {
			if days, word := map[string]int{"immediately": 0, "promptly": 7}[o.Due.Word]; word && found != "" {
				o.Due.At = plus(found, days)
			}
			if len(o.Due.At) >= 10 && !strings.HasSuffix(o.Code, "_LINE") {
				out = append(out, rawDuty{code: o.Code, due: o.Due.At[:10], to: o.To + o.Note})
			}
		}
	}
	return out
}

// done says when a duty was done, "" not yet, "void" if nothing is left to do.
func (k *rawTake) done(r *rawRecord, code string) string {
	for _, raw := range r.adds["done"] {
		var d struct {
			Code, Document string
			Waives         bool
			At             struct{ Earliest string }
		}
		if json.Unmarshal(raw, &d) == nil && d.Code == code {
			if d.Waives {
				return "void"
			}
			return cmp.Or(d.At.Earliest, "some day")
		}
	}
	handing := slices.Contains([]string{"DEPOSIT", "HAND_OVER_NOW", "TRANSFER_NOW", "HAND_TO_HOLDER"}, code)
	taker := handing || slices.Contains([]string{"TAG", "IDENTIFY_BEFORE_REPORT", "DONATE_OR_DESTROY", "ACCESSION_PERMIT_NO"}, code)
	switch {
	case taker && r.text("deed") != "taken":
		return "void"
	case handing && k.place == "received":
		return cmp.Or(k.received, "some day")
	case handing && slices.Contains([]string{"agency", "transferred", "destroyed"}, k.place):
		return "void"
	case code == "TAG" && k.tagged, code == "IDENTIFY_BEFORE_REPORT" && k.sure:
		return "some day"
	}
	return ""
}

// stands reckons how each number of the paper stands at the end of the year.
func (p rawPaper) stands(year string, takes []*rawTake, class map[string]string, n map[string]int) {
	for _, q := range p.Quotas {
		used := 0
		for _, k := range takes {
			named := slices.Contains(q.Taxa, k.taxon) || slices.Contains(q.Taxa, class[k.taxon])
			within := q.Window == "permit_life" || k.day != "" && k.day[:4] == year
			if k.deed == "taken" && k.covered(p.ID) && k.material == "carcass" && named && within {
				used++
			}
		}
		n["number "+q.ID+": limit"] = q.Limit
		n["number "+q.ID+": used"] = min(used, q.Limit)
		n["number "+q.ID+": over"] = max(0, used-q.Limit)
	}
}

type wireRest struct {
	AsOf       int64 `json:"as_of_ms"`
	Agencies   int   `json:"to_agencies"`
	HeldBefore int   `json:"held_before"`
	HeldAfter  int   `json:"held_after"`
	In         []struct {
		Day, From, To string
	} `json:"came_in"`
	Out []struct {
		Day, From, To string
	} `json:"given_away"`
	Late []struct {
		Code, Due, Done string
	} `json:"late_duties"`
	Nil      []string `json:"without_activity"`
	Balances []struct {
		Quota             string
		Limit, Used, Over int
		Free, Lent        int
		Unlimited         bool
		OverAnimals       []struct{} `json:"over_animals"`
		Near              bool
		WarnsFrom         int `json:"warns_from"`
		Open              int
	}
}

func (y wireRest) told(n map[string]int) {
	n["given to agencies"], n["held before"], n["held after"] = y.Agencies, y.HeldBefore, y.HeldAfter
	for _, h := range y.In {
		n["came in on "+h.Day]++
	}
	for _, h := range y.Out {
		n["given away on "+h.Day+" to "+h.To]++
	}
	for _, d := range y.Late {
		n["late "+d.Code+" of "+d.Due[:10]]++
	}
	for _, who := range y.Nil {
		n["nothing by "+who] = 1
	}
	for _, b := range y.Balances {
		n["number "+b.Quota+": limit"], n["number "+b.Quota+": used"], n["number "+b.Quota+": over"] = b.Limit, b.Used, b.Over
	}
}

// day is the day of a moment by the museum's clock.
func day(t *testing.T, ms int64) string {
	t.Helper()
	zone, err := time.LoadLocation("America/Detroit")
	if err != nil {
		t.Fatal(err)
	}
	return time.UnixMilli(ms).In(zone).Format(time.DateOnly)
}

// heldOn checks that what a year begins with is what the year before ended
// with, but for animals without a day, which stand in every year.
func heldOn(t *testing.T, paper string, before, after wireRest, undated int) {
	t.Helper()
	if before.HeldAfter-undated != after.HeldBefore {
		t.Errorf("%s: a year ended with %d held, %d of them without a day, and the next began with %d", paper, before.HeldAfter, undated, after.HeldBefore)
	}
}

func plus(day string, days int) string {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return ""
	}
	return d.AddDate(0, 0, days).Format(time.DateOnly)
}
