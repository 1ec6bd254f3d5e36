package server

import (
	"context"
	"slices"
	"strings"
	"sync"

	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/screen/find"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/sync/record"
)

// asker answers what-if questions under the desk's own words.
type asker struct {
	*Server
	taxa []permits.Taxon

	once     sync.Once
	counties []county
}

type county struct {
	state, name string
	home        bool // in a state in which the institution collects
}

// Explain implements web.Asker.
func (a *asker) Explain(ctx context.Context, by catalogue.Hand, d intake.Draft, others []intake.Draft) (intake.Explained, error) {
	return a.intake.Explain(ctx, intake.Hand(by), d, others)
}

// Place implements web.Asker.
func (a *asker) Place(w find.Whereabouts) (record.Georeference, error) { return a.Places().Place(w) }

// Taxa implements web.Asker.
func (a *asker) Taxa() []permits.Taxon { return a.taxa }

// Counties implements web.Asker: those of the states in which the institution
// collects. Every other one may be typed.
func (a *asker) Counties() []string {
	a.once.Do(a.list)
	var out []string
	for _, c := range a.counties {
		if c.home {
			out = append(out, c.name+" County, "+find.NameOf(c.state))
		}
	}
	slices.Sort(out)
	return out
}

func (a *asker) list() {
	if a.lines == nil {
		return
	}
	for _, r := range a.lines.Regions() {
		if r.Level == region.County {
			a.counties = append(a.counties, county{find.Code(r.ID), r.Name, slices.Contains(a.cfg.Home, r.Parent)})
		}
	}
}

// County implements web.Asker.
func (a *asker) County(text string) (state, name, wrong string) {
	a.once.Do(a.list)
	before, after, two := cutLast(text)
	if !two {
		if code := find.CodeOf(text); strings.Contains(code, "-") {
			return code, "", ""
		}
	} else if state = find.CodeOf(after); !strings.Contains(state, "-") {
		return "", "", "No state is called “" + after + "” here. Write it as Mason County, Michigan."
	}
	if a.lines == nil {
		if state == "" {
			return "", "", "There are no boundary lines on this server; name the state too, as in Mason County, Michigan."
		}
		return state, strings.TrimSpace(before), ""
	}
	var fit []county
	for _, c := range a.counties {
		if (state == "" || c.state == state) && sameCounty(c.name, before) {
			fit = append(fit, c)
		}
	}
	if state == "" && len(fit) > 1 {
		fit = slices.DeleteFunc(fit, func(c county) bool { return !c.home })
	}
	switch {
	case len(fit) == 1:
		return fit[0].state, fit[0].name, ""
	case state == "":
		return "", "", "Several counties, or none, are called “" + before + "”. Name the state too, as in Mason County, Michigan."
	}
	return "", "", find.NameOf(state) + " has no county “" + before + "” on the lines that are loaded."
}

func cutLast(text string) (before, after string, ok bool) {
	i := strings.LastIndexByte(text, ',')
	if i < 0 {
		return strings.TrimSpace(text), "", false
	}
	return strings.TrimSpace(text[:i]), strings.TrimSpace(text[i+1:]), true
}

func sameCounty(name, typed string) bool {
	plain := func(s string) string {
		s = strings.ToLower(strings.TrimSpace(s))
		for _, end := range []string{" county", " parish", " borough"} {
			s = strings.TrimSuffix(s, end)
		}
		return strings.NewReplacer(".", "", "’", "'").Replace(s)
	}
	return plain(name) == plain(typed)
}
