package demo

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// lent is a share as the interface tells of it.
type lent struct {
	escrow.Holding
	Record op.ID
}

// Borrow asks for shares of every number and keeps what the phone holds.
func (p *Phone) Borrow(ctx context.Context) error {
	var got struct{ Grants []lent }
	in := map[string]any{"device": p.Dev.String(), "next_seq": p.seq + 1}
	if err := p.Client.Do(ctx, http.MethodPost, "/v1/grants", in, &got); err != nil {
		return fmt.Errorf("ask for shares: %w", err)
	}
	for _, l := range got.Grants {
		p.purse.Take(l.Holding)
		p.papers[l.Authority] = l.Record
	}
	return nil
}

// spend adds to a find what it uses of the phone's shares of single species.
func (p *Phone) spend(r scenario.Report, f *Find) error {
	sci := named[r.Taxon.English]
	if sci == "" || r.Deed != scenario.Taken {
		return nil
	}
	year, month, day := f.Made.Date()
	for paper := range p.papers {
		all, _ := p.purse.Spend(paper, r.Taxon.English, sci, permits.NewDate(year, int(month), day), len(f.Animals))
		for _, s := range all {
			v, err := op.ValueOf(s)
			if err != nil {
				return err
			}
			f.Groups[0].Acts = append(f.Groups[0].Acts, op.Event("spent", v))
		}
	}
	return nil
}

// giveBack gives up what is left of the shares of single species.
func (p *Phone) giveBack(at *Find) error {
	for _, h := range p.purse.Holdings {
		if h.Taxon == "" {
			continue
		}
		back, ok := p.purse.GiveBack(h.ID)
		if !ok {
			continue
		}
		v, err := op.ValueOf(back)
		if err != nil {
			return err
		}
		g := op.Group{ID: p.papers[h.Authority], Kind: string(record.Authority), Acts: []op.Act{op.Event("returned", v)}}
		if _, err := p.Save(at.Made, g); err != nil {
			return err
		}
	}
	return nil
}

// borrow lets the phones of which the story says so ask for shares. A year
// that is over lends nothing any more.
func (p *pourer) borrow(ctx context.Context) error {
	if !p.Today.Known() {
		return nil
	}
	for _, g := range p.Story.Grants {
		ph, err := p.phone(ctx, g.Device)
		if err != nil {
			return err
		}
		if err := ph.Borrow(ctx); err != nil {
			return err
		}
	}
	return nil
}

// giveBack ends the season of the phones that had shares.
func (p *pourer) giveBack(ctx context.Context) error {
	for _, b := range slices.Backward(p.Story.Batches) {
		ph := p.phones[b.Device]
		if ph == nil || len(ph.papers) == 0 || len(b.Reports) == 0 {
			continue
		}
		last := p.out.Finds[b.Reports[len(b.Reports)-1]]
		if err := ph.giveBack(&last); err != nil {
			return err
		}
		receipts, err := ph.Push(ctx)
		if err != nil {
			return err
		}
		p.out.Receipts = append(p.out.Receipts, receipts...)
	}
	return nil
}
