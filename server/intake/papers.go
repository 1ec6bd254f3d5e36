package intake

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"wayfall/permits"
	"wayfall/permits/quota"
)

// Papers returns every edition of every authority, and how much of each of
// their numbers is used on the day, as a phone needs them offline.
func (in *Intake) Papers(ctx context.Context, today string) ([]permits.Authority, quota.Fixed, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if _, err := in.screen(ctx); err != nil {
		return nil, nil, err
	}
	day, err := permits.ParseDate(today)
	if err != nil {
		return nil, nil, err
	}
	papers, ledger := []permits.Authority{}, in.ledgerOf()
	ids := map[string]bool{}
	for _, all := range in.world.papers {
		for _, a := range all {
			papers = append(papers, a)
			ids[a.ID] = true
		}
	}
	slices.SortFunc(papers, func(a, b permits.Authority) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), cmp.Compare(a.From(), b.From()), cmp.Compare(a.Version, b.Version))
	})
	stated := quota.Fixed{}
	for _, id := range slices.Sorted(maps.Keys(ids)) {
		if a := permits.VersionAt(papers, id, day); a != nil {
			stated = append(stated, in.stated(a, ledger, day)...)
		}
	}
	return papers, stated, nil
}

// stated is what is used of each number of one authority; of a number for each
// species apart, only species that were taken are stated.
func (in *Intake) stated(a *permits.Authority, ledger *quota.Ledger, day permits.Date) quota.Fixed {
	taxa := map[string]bool{}
	for _, f := range in.world.finds {
		for _, u := range f.uses {
			if u.Authority == a.ID {
				for _, t := range in.rules.Checklist.Resolve(u.Taxon, true, nil).Taxa {
					taxa[t.Name] = true
				}
			}
		}
	}
	var out quota.Fixed
	for i := range a.Quotas {
		q := &a.Quotas[i]
		if q.Per != "taxon" {
			used, _, _ := ledger.Used(a, q, "", day)
			out = append(out, quota.Stated{Authority: a.ID, Quota: q.ID, Used: used})
			continue
		}
		for _, name := range slices.Sorted(maps.Keys(taxa)) {
			if !in.concerns(q, name) {
				continue
			}
			if used, _, _ := ledger.Used(a, q, name, day); used > 0 {
				out = append(out, quota.Stated{Authority: a.ID, Quota: q.ID, Taxon: name, Used: used})
			}
		}
	}
	return out
}
