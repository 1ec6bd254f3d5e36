package escrow

import "wayfall/permits"

// Holding is a share as the device holds it: Next is the first serial it has
// not spent.
type Holding struct {
	Grant
	Next int `json:"next"`
}

// Left returns how many units are left.
func (h *Holding) Left() int { return max(0, h.Last-h.Next+1) }

// Purse is everything a device holds. What it once spent or gave up it knows
// for ever, so an old answer of the server brings nothing back.
type Purse struct {
	Holdings []Holding `json:"holdings"`
	Life     string    `json:"life,omitempty"` // of the server that answered last; a new one begins when it is put back from a copy
	Asked    int       `json:"asked,omitempty"`
}

// Ask begins to ask the server for shares. It returns the number of the
// question, which is for Hear. The device sends Life and Holdings with it: a
// server that was put back learns from them what it lent and does not know.
func (p *Purse) Ask() int {
	p.Asked++
	return p.Asked
}

// Hear takes what the server answered in one of its lives to the question of
// that number. An answer to any question but the last is passed over, since it
// may come from before the server was put back.
func (p *Purse) Hear(question int, life string, all []Holding) bool {
	if question != p.Asked {
		return false
	}
	p.Life = life
	for _, h := range all {
		p.Take(h)
	}
	return true
}

// Take puts a share into the purse as the server tells of it, or moves it on
// where the server knows of later spends. It never moves one back.
func (p *Purse) Take(h Holding) {
	for i := range p.Holdings {
		if mine := &p.Holdings[i]; mine.ID == h.ID {
			mine.Next = max(mine.Next, h.Next)
			return
		}
	}
	h.Next = max(h.Next, h.First)
	p.Holdings = append(p.Holdings, h)
}

// Left returns how many units of a number the purse holds on a day.
func (p *Purse) Left(authority, quota, taxon string, on permits.Date) (n int) {
	for i := range p.Holdings {
		if h := &p.Holdings[i]; h.of(authority, quota, taxon, on) {
			n += h.Left()
		}
	}
	return n
}

func (h *Holding) of(authority, quota, taxon string, on permits.Date) bool {
	return h.Authority == authority && h.Quota == quota && h.Taxon == taxon && h.From <= on && on <= h.To
}

// Spend takes n units of a number, oldest share first and in order, or none at
// all if the purse holds fewer.
func (p *Purse) Spend(authority, quota, taxon string, on permits.Date, n int) ([]Spend, bool) {
	if n < 1 || p.Left(authority, quota, taxon, on) < n {
		return nil, false
	}
	out := make([]Spend, 0, n)
	for i := range p.Holdings {
		h := &p.Holdings[i]
		for len(out) < n && h.Left() > 0 && h.of(authority, quota, taxon, on) {
			out = append(out, Spend{authority, quota, h.ID, h.Next})
			h.Next++
		}
	}
	return out, true
}

// GiveBack gives up the rest of one share, and tells whether there was any.
func (p *Purse) GiveBack(grant string) (Return, bool) {
	for i := range p.Holdings {
		h := &p.Holdings[i]
		if h.ID == grant && h.Left() > 0 {
			out := Return{grant, h.Next}
			h.Next = h.Last + 1
			return out, true
		}
	}
	return Return{}, false
}
