package escrow

import (
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
)

// many says how many random schedules are run.
func many() int {
	if soak() {
		return 1_000_000
	}
	return 20_000
}

// schedule runs one random schedule and says which promise broke.
func schedule(seed uint64, change func(*rule)) string {
	rnd := rand.New(rand.NewPCG(seed, 17))
	r := rule{limit: 1 + rnd.IntN(30), size: 4, grants: 12, returns: 4, restores: 2, copies: 2, losses: 2, entries: 4, amends: 2, ends: rnd.IntN(2)}
	r.sized = rnd.IntN(2) == 0
	if change != nil {
		change(&r)
	}
	s := begin(r, 2+rnd.IntN(5))
	var all []step
	for range 80 {
		if all = s.steps(r, all[:0]); len(all) == 0 {
			return ""
		}
		// Taking animals and being heard happen more often than what is rare.
		t := all[rnd.IntN(len(all))]
		if t.what >= backUp && rnd.IntN(4) > 0 {
			t = all[rnd.IntN(len(all))]
		}
		s.take(r, t)
		if wrong := s.broken(r); wrong != "" {
			return wrong
		}
	}
	return ""
}

// count runs schedules on both cores and counts those that break a promise.
func count(n int, change func(*rule)) (broken int64, first string) {
	return countOf(n, func(seed uint64) string { return schedule(seed, change) })
}

func countOf(n int, run func(seed uint64) string) (broken int64, first string) {
	var at, bad atomic.Int64
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := at.Add(1); i <= int64(n); i = at.Add(1) {
				if wrong := run(uint64(i)); wrong != "" {
					bad.Add(1)
					mu.Lock()
					first = wrong
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	return bad.Load(), first
}

func TestRandomSchedulesNeverPassTheNumber(t *testing.T) {
	n := many()
	broken, wrong := count(n, nil)
	t.Logf("SHOW %d schedules of up to 80 steps, 2 to 6 phones and their copies, numbers 1 to 30: %d broke a promise", n, broken)
	if broken > 0 {
		t.Errorf("got %d schedules, want 0: %s", broken, wrong)
	}
}

func TestRandomSchedulesFindWhatEachSafeguardIsFor(t *testing.T) {
	n := many() / 10
	for name, change := range map[string]func(*rule){
		"without the fence":       func(r *rule) { r.noFence = true },
		"with release by timeout": func(r *rule) { r.timeout = true },
	} {
		broken, _ := count(n, change)
		t.Logf("SHOW %s: %d of %d schedules broke a promise (%.2f %%)", name, broken, n, 100*float64(broken)/float64(n))
		if broken == 0 {
			t.Errorf("%s: got 0 broken schedules, want some: the schedules do not reach the fault", name)
		}
	}
}
