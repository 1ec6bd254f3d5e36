package catalogue

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// PaperYears is a paper with what was taken under it in each year, and the
// first year that is known here.
type PaperYears struct {
	Document json.RawMessage
	Taken    map[int]int
	Since    int
}

// PaperDuty is what a paper itself asks for. Key tells one year or one end of
// the paper from another; For says the same in words.
type PaperDuty struct {
	permits.Obligation
	Key, For, Who string
}

// paperDuties are the duties of every paper that is not withdrawn.
func (b *Book) paperDuties() []Duty {
	if b.out.Asks == nil {
		return nil
	}
	taken := b.takenByYear()
	var out []Duty
	for _, p := range b.papers {
		if p.standing != merge.Hidden && len(p.document) > 0 {
			out = append(out, b.asked(p, taken[p.name])...)
		}
	}
	slices.SortFunc(out, func(x, y Duty) int { return cmp.Or(cmp.Compare(x.Report, y.Report), cmp.Compare(x.Code, y.Code)) })
	return out
}

// takenByYear counts what was taken under each paper in each year.
func (b *Book) takenByYear() map[string]map[int]int {
	b.renew()
	years := make([]map[int]int, len(b.small.covers))
	for i := range b.small.all {
		s := &b.small.all[i]
		if !s.Has(quota.Taken) || s.Has(quota.Gone) || !s.Day.Known() {
			continue
		}
		if years[s.Cover] == nil {
			years[s.Cover] = map[int]int{}
		}
		years[s.Cover][s.Day.Year()]++
	}
	out := map[string]map[int]int{}
	for i, counts := range years {
		for _, on := range b.small.covers[i].On {
			if out[on.Authority] == nil {
				out[on.Authority] = map[int]int{}
			}
			for year, n := range counts {
				out[on.Authority][year] += n
			}
		}
	}
	return out
}

// asked are the duties of one paper, with what people at the desk noted.
func (b *Book) asked(p *paperEntry, taken map[int]int) []Duty {
	y := PaperYears{Document: p.document, Taken: taken, Since: p.since}
	for year := range taken {
		if y.Since == 0 || year < y.Since {
			y.Since = year
		}
	}
	var out []Duty
	for _, o := range b.out.Asks(y) {
		d := Duty{Code: o.Code + " " + o.Key, Text: DutyText(o.Code), Cites: string(o.Rule), Due: o.Due.At.String(), Report: p.id.String(), Who: o.Who, Paper: true, Severity: o.Severity}
		if o.To != "" {
			d.Text += ", to " + o.To
		}
		d.Text += ", " + o.For
		for _, said := range p.done {
			if said.Value.Code == d.Code && said.Device == p.desk {
				d.note(said, true)
			}
		}
		if d.Done {
			d.Waived, d.Void = false, ""
		}
		out = append(out, d)
	}
	return out
}

// paper is the paper of that record, if it is one.
func (b *Book) paperOf(ctx context.Context, id string) (codes []string, paper bool, err error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, false, err
	}
	defer unlock()
	at, err := op.ParseID(id)
	if err != nil || b.papers[at] == nil {
		return nil, false, nil
	}
	for _, d := range b.paperDuties() {
		if d.Report == id {
			codes = append(codes, d.Code)
		}
	}
	return codes, true, nil
}

// notePaper writes a note on a duty that a paper asks for.
func (c *Clerk) notePaper(ctx context.Context, by Hand, paper string, codes []string, note record.DutyDone) error {
	if !slices.Contains(codes, note.Code) {
		return fault.New(fault.Conflict, "the paper asks for nothing of that kind any longer")
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, paper, record.Authority)
		if err != nil {
			return nil, err
		}
		return done(on(s.ID, record.Authority).event("done", note))
	})
}
