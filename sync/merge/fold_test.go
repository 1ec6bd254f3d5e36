package merge

import (
	"errors"
	"math/rand/v2"
	"testing"
)

// Folding a history at once gives the bytes that folding it step by step gives.
func TestFoldingAtOnceIsFoldingStepByStep(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for round := range 200 {
		h := drawHistory(rng, 1+rng.IntN(40))
		one, many := New(theID, kind), New(theID, kind)
		for i := range h.ops {
			one.Apply(h.ops[i], h.receipts[i])
		}
		err := many.Fold(func(yield func(Folded, error) bool) {
			for i := range h.ops {
				if !yield(Folded{h.ops[i], h.receipts[i]}, nil) {
					return
				}
			}
		})
		if err != nil || one.Digest() != many.Digest() {
			t.Fatalf("round %d: at once %x, %v; step by step %x", round, many.Digest(), err, one.Digest())
		}
	}
}

func TestFoldingStopsAtAnError(t *testing.T) {
	s, want := New(theID, kind), errors.New("unreadable")
	err := s.Fold(func(yield func(Folded, error) bool) { yield(Folded{}, want) })
	if !errors.Is(err, want) || !s.Empty() {
		t.Errorf("got %v, want %v and nothing folded", err, want)
	}
}
