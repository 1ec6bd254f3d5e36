package catalogue

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// inWords writes what each slip says, by animal: the places of words, covers
// and animals differ between two censuses of one log.
func inWords(c *Census, id func(uint32) string) []string {
	var out []string
	for i := range c.All {
		s := c.All[i]
		if s.Has(quota.Gone) {
			continue
		}
		cover := *c.CoverOf(&s)
		on := slices.Clone(cover.On)
		slices.SortFunc(on, func(a, b OnPaper) int { return slices.Compare([]byte(a.Authority), []byte(b.Authority)) })
		out = append(out, fmt.Sprint(id(s.Animal), s.Found, s.Day, c.Words[s.Taxon], c.Words[s.Name], c.Words[s.Material], c.Words[s.State],
			c.Words[s.County], c.Words[s.Person], s.Due, s.Handed, s.Marks, s.Fate, cover.Permits, on))
	}
	slices.Sort(out)
	return out
}

// act does something at random to the finds so far.
func (b *bench) act(r *rand.Rand, reports, animals *[]op.ID, unborn op.ID) {
	if len(*reports) < 2 || r.IntN(4) == 0 {
		report, animal := b.find(1, fmt.Sprintf("2025-%02d-%02d", 1+r.IntN(12), 1+r.IntN(28)), fmt.Sprint("T", len(*reports)))
		*reports, *animals = append(*reports, report), append(*animals, animal)
		return
	}
	report, animal := (*reports)[r.IntN(len(*reports))], (*animals)[r.IntN(len(*animals))]
	other := (*animals)[r.IntN(len(*animals))]
	switch r.IntN(10) {
	case 0, 1:
		b.phone(1, on(animal, record.Animal).set("same_as", other.String()))
	case 2:
		b.phone(1, on(animal, record.Animal).set("same_as", nil))
	case 3:
		b.phone(1, on(animal, record.Animal).set("same_as", unborn.String()))
	case 4:
		kind, id := record.Report, report
		if r.IntN(2) == 0 {
			kind, id = record.Animal, animal
		}
		b.phone(1, on(id, kind).event([]string{"withdrawn", "restored"}[r.IntN(2)], record.Withdrawn{Reason: "x"}))
	case 5:
		b.phone(1, on(animal, record.Animal).set("disposition", []string{"received", "agency", "destroyed", "transferred"}[r.IntN(4)]).
			event("custody", record.Custody{From: "ana", To: Here, At: day("2025-11-03")}))
	case 6:
		b.phone(1, on(report, record.Report).set("found", day(fmt.Sprintf("2024-%02d-11", 1+r.IntN(12)))).set("deed", []string{"taken", "left"}[r.IntN(2)]))
	case 7:
		b.phone(1, on(report, record.Report).element("animals", other.String()))
	case 8:
		b.phone(1, on(unborn, record.Animal).set("disposition", "received"))
	default:
		v := mayTake("DEPOSIT", "TAG")
		v.Relies = append(v.Relies, permits.Reliance{Authority: []string{"FEDERAL", "STATE"}[r.IntN(2)]})
		v.Obligations[0].Due = permits.Due{At: permits.NewDate(2025, 12, 31).At(0, 0)}
		b.phone(1, on(report, record.Report).event("verdicts", v))
	}
}

// What the Book keeps in small, renewed change by change, is what reading
// every animal anew gives, whatever happened and whenever it was asked.
func TestTheCensusThatIsRenewedIsTheCensusTakenAnew(t *testing.T) {
	for seed := range uint64(60) {
		r, b, ctx := rand.New(rand.NewPCG(seed, 4)), newBench(t), context.Background()
		var reports, animals []op.ID
		unborn := op.ID{0xFF, byte(seed)}
		for step := range 80 {
			b.act(r, &reports, &animals, unborn)
			if r.IntN(3) > 0 {
				continue
			}
			var got, want []string
			var order []uint32
			takes, err := b.book.Count(ctx, func(c *Census) ([]uint32, error) {
				for i := range c.All {
					if !c.All[i].Has(quota.Gone) {
						order = append(order, uint32(i))
					}
				}
				slices.SortFunc(order, func(x, y uint32) int {
					if c.Before(x, y) {
						return -1
					}
					return 1
				})
				got = inWords(c, func(n uint32) string { return b.book.small.ids[n].String() })
				return order, nil
			})
			b.must(err)
			all, place, err := b.book.Takes(ctx, Everything)
			b.must(err)
			want = inWords(Tallied(all, place), func(n uint32) string { return all[n].ID })
			if !slices.Equal(got, want) {
				t.Fatalf("seed %d, step %d: renewed\n%q\ntaken anew\n%q", seed, step, got, want)
			}
			if !slices.IsSortedFunc(takes, func(x, y Take) int { return slices.Compare([]byte(x.ID), []byte(y.ID)) }) || len(takes) != len(want) {
				t.Fatalf("seed %d: %d animals, not in the order of their written names", seed, len(takes))
			}
		}
	}
}

func TestIdsAreOrderedAsTheyAreWritten(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		var x, y op.ID
		for i := range x {
			x[i] = byte(r.Uint32())
		}
		y = x
		for range 1 + r.IntN(2) {
			y[r.IntN(16)] = byte(r.Uint32())
		}
		if got, want := spelledBefore(x, y), x.String() < y.String(); got != want {
			t.Fatalf("%s before %s: got %v, want %v", x, y, got, want)
		}
	}
}
