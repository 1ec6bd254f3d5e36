// Package share is what a phone does with the shares of numbers that it was
// lent: what it hears goes into its purse, a check asks the purse whether a
// number is free, a save spends from it, and what is not needed is given back.
//
// It promises that a number that can be lent is known to be free only as far
// as the purse reaches: beyond that nobody can tell without the museum, and an
// answer is never more permissive than that. It spends for nothing that the
// check did not permit, and all of a find's numbers or none. Whether the purse
// is the phone's own, and not a copy of another's, the page must see to.
package share

import (
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
)

// Purse is what a phone holds, and the record of each paper on which a share
// of it is given back.
type Purse struct {
	escrow.Purse
	Records map[string]string `json:"records,omitempty"`
}

// Lent is a share as the museum tells of it.
type Lent struct {
	escrow.Holding
	Record string `json:"record"`
}

// Hear takes in everything that the museum says the device holds. Heard again,
// or late, it brings nothing back that was spent or given up.
func (p *Purse) Hear(device string, all []Lent) {
	for _, l := range all {
		if l.Device != device || l.ID == "" || l.First < 1 || l.Last < l.First {
			continue
		}
		p.Take(l.Holding)
		if p.Records == nil {
			p.Records = map[string]string{}
		}
		p.Records[l.Authority] = l.Record
	}
}

// Back is the rest of a share to be given up, on the record of its paper.
type Back struct {
	Record string        `json:"record"`
	Return escrow.Return `json:"return"`
}

// GiveBack gives up the rest of every share whose window ended before the day;
// of an unknown day, of every share.
func (p *Purse) GiveBack(before permits.Date) []Back {
	out := []Back{}
	for i := range p.Holdings {
		h := &p.Holdings[i]
		if record := p.Records[h.Authority]; record != "" && (!before.Known() || h.To < before) {
			if r, ok := p.Purse.GiveBack(h.ID); ok {
				out = append(out, Back{record, r})
			}
		}
	}
	return out
}

// Number is one number of which a phone holds or held a share.
type Number struct {
	Authority string       `json:"authority"`
	Quota     string       `json:"quota"`
	Taxon     string       `json:"taxon,omitempty"`
	Of        string       `json:"of"` // what it counts, in words
	Left      int          `json:"left"`
	To        permits.Date `json:"to"`
}

// Numbers lists what the purse holds on a day, each number once.
func (p *Purse) Numbers(on permits.Date, papers []permits.Authority, names *permits.Checklist) []Number {
	out := []Number{}
	for i := range p.Holdings {
		h := &p.Holdings[i]
		if on < h.From || h.To < on {
			continue
		}
		at := slices.IndexFunc(out, func(n Number) bool { return n.Authority == h.Authority && n.Quota == h.Quota && n.Taxon == h.Taxon })
		if at < 0 {
			n := Number{Authority: h.Authority, Quota: h.Quota, Taxon: h.Taxon, Of: h.Quota, To: h.To}
			if a := permits.VersionAt(papers, h.Authority, on); a != nil {
				if q := quotaOf(a, h.Quota); q != nil {
					n.Of = Of(q, h.Taxon, names)
				}
			}
			at, out = len(out), append(out, n)
		}
		out[at].Left += h.Left()
	}
	return out
}

func quotaOf(a *permits.Authority, id string) *permits.Quota {
	for i := range a.Quotas {
		if a.Quotas[i].ID == id {
			return &a.Quotas[i]
		}
	}
	return nil
}

var classes = map[string]string{"Aves": "Birds of any kind", "Mammalia": "Mammals of any kind", "Reptilia": "Reptiles of any kind",
	"Amphibia": "Amphibians of any kind"}

// Of says in words what a number counts.
func Of(q *permits.Quota, taxon string, names *permits.Checklist) string {
	if q.Per == "all" {
		return "Animals of any kind"
	}
	selectors := q.Taxa
	if q.Per == "taxon" {
		selectors = []string{taxon}
	}
	var words []string
	for _, s := range selectors {
		word := classes[s]
		if names != nil {
			if t := names.Taxon(s); t != nil && t.Name == s {
				word = t.English
			}
		}
		if word == "" {
			return q.ID
		}
		words = append(words, word)
	}
	if len(words) == 0 || len(words) > 4 {
		return q.ID
	}
	return strings.Join(words, ", ")
}

// Divided tells whether shares of a number can be lent at all: one for each
// species apart only where the paper names the species.
func Divided(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) bool {
	from, _ := quota.Window(a, q, on)
	return from.Known() && !q.Unlimited && q.Limit > 0 && (q.Per != "taxon" || slices.Contains(q.Taxa, taxon))
}

// Own is what this phone took and the stated numbers do not hold yet.
type Own struct {
	Authority string `json:"authority"`
	Taxon     string `json:"taxon"`
	Count     int    `json:"count"`
}

// Draw is a number on which a check drew.
type Draw struct {
	Authority string
	Quota     string
	Taxon     string // for a number that counts each species apart
	Of        string
	On        permits.Date
	Held      int
	Short     bool // the share does not reach
}

// Tally is what a phone knows of numbers: what was stated last, its own
// takings since, and, where it has a purse, no more than its shares. It notes
// on which shares a check drew.
type Tally struct {
	Stated rules.Tally
	Own    []Own
	Names  *permits.Checklist
	Purse  *Purse // nil: this phone asks for no shares
	Need   int    // how many animals are asked about
	Draws  []Draw
}

// Used answers the check. A number whose share does not reach is not known; it
// is not used up either, unless what was stated says so.
func (t *Tally) Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	used, left, known = t.Stated.Used(a, q, taxon, on)
	for _, o := range t.Own {
		if o.Authority == a.ID && t.counts(o.Taxon, q, taxon) {
			used, left = used+max(o.Count, 1), left-max(o.Count, 1)
		}
	}
	need := max(t.Need, 1)
	if t.Purse == nil || !known || left < need || !Divided(a, q, taxon, on) {
		return used, left, known
	}
	d := Draw{Authority: a.ID, Quota: q.ID, On: on}
	if q.Per == "taxon" {
		d.Taxon = taxon
	}
	d.Held = t.Purse.Left(d.Authority, d.Quota, d.Taxon, on)
	d.Short, d.Of = d.Held < need, Of(q, d.Taxon, t.Names)
	if !slices.Contains(t.Draws, d) {
		t.Draws = append(t.Draws, d)
	}
	return used, min(left, d.Held), !d.Short
}

// counts tells whether one's own taking may count against the number: a vague
// name counts against everything it could be.
func (t *Tally) counts(name string, q *permits.Quota, taxon string) bool {
	if q.Per == "all" {
		return true
	}
	for _, one := range t.Names.Resolve(name, true, nil).Taxa {
		if q.Per == "taxon" && one.Name == taxon || q.Per == "list" && slices.ContainsFunc(q.Taxa, one.Is) {
			return true
		}
	}
	return false
}

// Drawn returns the draws on the papers on which a verdict relies; of one that
// permits nothing, those that are short.
func (t *Tally) Drawn(v *permits.Verdict) (out []Draw) {
	for _, d := range t.Draws {
		relied := slices.ContainsFunc(v.Relies, func(r permits.Reliance) bool { return r.Authority == d.Authority })
		if v.Outcome.Permits() && relied && !d.Short || !v.Outcome.Permits() && d.Short {
			out = append(out, d)
		}
	}
	return out
}

// Spend takes from the purse what a find that the verdict permits uses: as
// many units of each number as there are animals. It spends nothing for any
// other.
func (t *Tally) Spend(v *permits.Verdict) []escrow.Spend {
	out := []escrow.Spend{}
	if t.Purse == nil || !v.Outcome.Permits() {
		return out
	}
	for _, d := range t.Drawn(v) {
		some, _ := t.Purse.Spend(d.Authority, d.Quota, d.Taxon, d.On, max(t.Need, 1))
		out = append(out, some...)
	}
	return out
}
