package proof

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
)

// Most is how many animals a sample may hold.
const Most = 1000

// sample is a page of animals drawn by chance, to be looked for on the shelf.
type sample struct {
	Name    string
	Seed    string
	Of      int
	LSN     uint64
	Animals []line
}

// draw returns n of the ids in the order of SHA-256 over seed and id, so that
// the same seed draws the same animals and anybody can draw them again.
func draw(ids []string, n int, seed string) []string {
	rank := func(id string) []byte {
		sum := sha256.Sum256(fmt.Appendf(nil, "%d:%s%s", len(seed), seed, id))
		return sum[:]
	}
	out := slices.Clone(ids)
	slices.SortFunc(out, func(a, b string) int { return cmp.Or(bytes.Compare(rank(a), rank(b)), cmp.Compare(a, b)) })
	return out[:max(0, min(n, len(out)))]
}

// sampled is the page of the sample, from the lines of the front page.
func (b *Bundle) sampled(all []line) sample {
	ids, at := []string{}, map[string]int{}
	for i := range b.takes {
		ids, at[b.takes[i].ID] = append(ids, b.takes[i].ID), i
	}
	s := sample{Name: b.sheet.Name, Seed: b.Seed, Of: len(all), LSN: b.place.LSN}
	for _, id := range draw(ids, b.Sample, b.Seed) {
		s.Animals = append(s.Animals, all[at[id]])
	}
	return s
}
