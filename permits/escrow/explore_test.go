package escrow

import (
	"hash/maphash"
	"os"
	"strings"
	"testing"
)

// found is what an exploration came to.
type found struct {
	states, depth int
	wrong         string   // the first broken promise
	way           []string // the shortest way there
}

// explore goes breadth first through every interleaving of a rule, until a
// promise is broken or nothing is left. States are told apart by a 64-bit hash.
func explore(t *testing.T, r rule, phones int) found {
	t.Helper()
	type node struct {
		s      *state
		parent int32
		by     step
	}
	seed := maphash.MakeSeed()
	var buf []byte
	hash := func(s *state) uint64 { buf = s.key(buf[:0]); return maphash.Bytes(seed, buf) }
	first := begin(r, phones)
	nodes := []node{{first, -1, step{}}}
	seen := map[uint64]struct{}{hash(first): {}}
	out := found{}
	var steps []step
	level := 1 // end of the level in nodes
	for at := 0; at < len(nodes); at++ {
		if at == level {
			level, out.depth = len(nodes), out.depth+1
		}
		s := nodes[at].s
		before := uint64(0)
		steps = s.steps(r, steps[:0])
		for _, by := range steps {
			next := s.clone()
			next.take(r, by)
			h := hash(next)
			if by.what == deliver && s.saved[by.a].known { // told twice
				if before == 0 {
					before = hash(s)
				}
				if h != before {
					t.Fatalf("%s again: the ledger is another one", by.tell(s))
				}
				continue
			}
			if _, old := seen[h]; old {
				continue
			}
			seen[h] = struct{}{}
			nodes = append(nodes, node{next, int32(at), by})
			if out.wrong = next.broken(r); out.wrong != "" {
				out.states, out.depth = len(nodes), out.depth+1
				var way []step
				for i := int32(len(nodes) - 1); i > 0; i = nodes[i].parent {
					way = append([]step{nodes[i].by}, way...)
				}
				out.way = retell(r, phones, way)
				return out
			}
		}
		nodes[at].s = nil // its successors are all known
	}
	out.states = len(nodes)
	return out
}

// retell goes a way again from the beginning and says each step in words.
func retell(r rule, phones int, way []step) (out []string) {
	s := begin(r, phones)
	for _, t := range way {
		out = append(out, t.tell(s))
		s.take(r, t)
	}
	return out
}

func soak() bool { return os.Getenv("WAYFALL_SOAK") != "" }

func TestNoInterleavingPassesTheNumber(t *testing.T) {
	for _, c := range []struct {
		name string
		soak bool
		rule rule
	}{
		{"all faults of phones together", false, rule{limit: 4, size: 2, grants: 2, returns: 1, restores: 1, copies: 1}},
		{"returns and loss", false, rule{limit: 4, size: 2, grants: 2, returns: 2, losses: 1}},
		{"desk, amendment and end", false, rule{limit: 4, size: 2, grants: 2, entries: 2, amends: 1, ends: 1}},
		{"returns and loss, three shares", true, rule{limit: 4, size: 2, grants: 3, returns: 1, losses: 1}},
		{"everything", true, rule{limit: 4, size: 2, grants: 2, returns: 1, restores: 1, copies: 1, losses: 1, entries: 1}},
	} {
		if c.soak && !soak() { // the wide ones belong to make soak
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			got := explore(t, c.rule, 3)
			violations := 0
			if got.wrong != "" {
				violations++
				t.Errorf("%s:\n  %s", got.wrong, strings.Join(got.way, "\n  "))
			}
			t.Logf("SHOW 3 phones, number %d: %d states, %d steps deep, %d violations", c.rule.limit, got.states, got.depth, violations)
		})
	}
}

func TestEachSafeguardIsNeeded(t *testing.T) {
	for _, c := range []struct {
		name string
		rule rule
	}{
		{"without the fence, a restored phone spends twice", rule{noFence: true, limit: 4, size: 4, grants: 1, restores: 1}},
		{"without the fence, a copied phone spends twice", rule{noFence: true, limit: 4, size: 4, grants: 1, copies: 1}},
		{"with release by timeout, a silent phone's units are lent twice", rule{timeout: true, limit: 4, size: 4, grants: 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := explore(t, c.rule, 3)
			if got.wrong == "" {
				t.Fatalf("got no counterexample in %d states, want one: the model does not show what the safeguard is for", got.states)
			}
			t.Logf("SHOW %s: after %d states: %s: %s", c.name, got.states, got.wrong, strings.Join(got.way, "; "))
		})
	}
}
