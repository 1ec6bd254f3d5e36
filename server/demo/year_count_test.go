package demo_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

// recount adds up the year of one paper from the animals of the raw log: every
// number by a name of its own.
func recount(p rawPaper, year string, takes []*rawTake, class, english map[string]string) map[string]int {
	n, over := map[string]int{}, overOf(p, year, takes, class)
	persons := map[string]map[string]int{}
	for _, k := range takes {
		if !k.under(p.ID) || k.day != "" && k.day[:4] != year {
			continue
		}
		if k.deed != "taken" {
			n["recorded and not taken"]++
			continue
		}
		n["all"]++
		n[map[string]string{"received": "kept", "agency": "given away", "transferred": "given away", "destroyed": "destroyed", "never_arrived": "lost", "vanished": "lost"}[k.place]]++
		if k.day != "" && k.person != "" {
			if persons[k.person] == nil {
				persons[k.person] = map[string]int{}
			}
			persons[k.person][k.day[:7]]++
		}
		switch {
		case !k.covered(p.ID):
			n["not covered"]++
		case over[k.animal]:
			n["over"]++
		case k.day == "":
			n["no day"]++
		default:
			line := []string{cmp.Or(english[k.taxon], k.taxon, "Not identified") + " / " + k.material, k.state, k.county, k.day[:7]}
			for i := range line {
				n[strings.Join(line[:i+1], " / ")]++
			}
			n["total"]++
		}
	}
	n["still out"] = n[""]
	delete(n, "")
	for _, l := range p.Persons {
		if persons[l.ID] == nil && max(l.From, p.From)[:4] <= year && year <= min(cmp.Or(l.To, "9999"), p.Until)[:4] {
			persons[l.ID] = map[string]int{}
		}
	}
	for who, months := range persons {
		for _, count := range months {
			n["by "+who] += count
		}
		n["by "+who] += 0
		n["months without activity of "+who] = idleOf(p, who, year, months)
	}
	return n
}

// overOf is what was found after a number of the paper was full.
func overOf(p rawPaper, year string, takes []*rawTake, class map[string]string) map[string]bool {
	over := map[string]bool{}
	for _, q := range p.Quotas {
		var mine []*rawTake
		for _, k := range takes {
			named := slices.Contains(q.Taxa, k.taxon) || slices.Contains(q.Taxa, class[k.taxon])
			if k.deed == "taken" && k.covered(p.ID) && k.material == "carcass" && named && (q.Window == "permit_life" || k.day[:4] == year) {
				mine = append(mine, k)
			}
		}
		slices.SortFunc(mine, func(a, b *rawTake) int { return cmp.Compare(a.time, b.time) })
		for _, k := range mine[min(q.Limit, len(mine)):] {
			over[k.animal] = true
		}
	}
	return over
}

// idleOf counts the months of the year in which the person stood on the paper
// on some day and took nothing.
func idleOf(p rawPaper, who, year string, months map[string]int) (n int) {
	for m := range 12 {
		month := fmt.Sprintf("%s-%02d", year, m+1)
		for _, l := range p.Persons {
			if l.ID == who && max(l.From, p.From)[:7] <= month && month <= min(cmp.Or(l.To, "9999-12"), p.Until)[:7] {
				if months[month] == 0 {
					n++
				}
				break
			}
		}
	}
	return n
}

type wireCount struct {
	Name, Taxon, Material string
	Count                 int
	Of                    []wireCount
}

type wireYear struct {
	Species []wireCount
	Entries []struct {
		Animal struct{ ID string }
		Over   bool
		Bare   bool `json:"not_covered"`
		Day    string
	}
	Total, Kept, Transferred, Destroyed, Pending, Lost int
	Observed                                           []struct{}
	Persons                                            []struct {
		Person string
		Count  int
		Idle   []string `json:"months_without_activity"`
	}
	Checks []struct {
		What string
		Even bool
	}
}

// told are the numbers of the report under the names of recount.
func (y wireYear) told() map[string]int {
	n := map[string]int{"total": y.Total, "kept": y.Kept, "given away": y.Transferred, "destroyed": y.Destroyed, "still out": y.Pending, "lost": y.Lost,
		"recorded and not taken": len(y.Observed), "all": len(y.Entries)}
	for _, s := range y.Species {
		s.Name += " / " + s.Material
		s.into(n, "")
	}
	for _, e := range y.Entries {
		switch {
		case e.Bare:
			n["not covered"]++
		case e.Over:
			n["over"]++
		case e.Day == "":
			n["no day"]++
		}
	}
	for _, p := range y.Persons {
		n["by "+p.Person] = p.Count
		n["months without activity of "+p.Person] = len(p.Idle)
	}
	return n
}

func (y wireYear) undated() (n int) {
	for _, e := range y.Entries {
		if e.Day == "" {
			n++
		}
	}
	return n
}

func (c wireCount) into(n map[string]int, before string) {
	n[before+c.Name] = c.Count
	for _, of := range c.Of {
		of.into(n, before+c.Name+" / ")
	}
}

// countedAgain holds every number of the report of every paper against the
// numbers that the raw log gives.
func (m *museum) countedAgain(t *testing.T, show bool) (numbers int) {
	t.Helper()
	records, entries := rawLog(t, m.officer)
	county := map[string]string{}
	for _, f := range m.outcome.Finds {
		county[f.ID.String()] = f.Report.Truth.County
	}
	takes := rawTakes(t, records, county)
	class, english := classes(t)
	for _, p := range rawPapers(t, records) {
		var before wireRest
		for i, year := range []string{"2024", "2025", "2026"} {
			var y wireYear
			var more wireRest
			m.get(t, "/v1/permits/"+p.ID+"/years/"+year, &y)
			m.get(t, "/v1/permits/"+p.ID+"/years/"+year, &more)
			want, got := recount(p, year, takes, class, english), y.told()
			rest(p, year, day(t, more.AsOf), takes, class, want)
			more.told(got)
			if i > 0 {
				heldOn(t, p.ID, before, more, y.undated())
			}
			before = more
			names := maps.Clone(want)
			maps.Copy(names, got)
			if show && year == "2025" {
				t.Logf("SHOW %s %s, from %d operations: expected | got", p.ID, year, entries)
			}
			for _, name := range slices.Sorted(maps.Keys(names)) {
				numbers++
				if want[name] != got[name] {
					t.Errorf("%s %s, %s: the report says %d, the log %d", p.ID, year, name, got[name], want[name])
				}
				if show && year == "2025" && strings.Count(name, " / ") < 2 {
					t.Logf("SHOW   %s: %d | %d", name, want[name], got[name])
				}
			}
			for _, c := range y.Checks {
				if !c.Even {
					t.Errorf("%s %s: the books do not agree: %s", p.ID, year, c.What)
				}
			}
		}
	}
	return numbers
}

// everyNumberAgain counts every number of the invented year again from the raw
// log.
func (m *museum) everyNumberAgain(t *testing.T) {
	n := m.countedAgain(t, true)
	t.Logf("SHOW %d numbers counted again from the log", n)
	if n < 500 {
		t.Errorf("only %d numbers were compared", n)
	}
}
