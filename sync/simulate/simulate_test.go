package simulate

import (
	"errors"
	"flag"
	"strings"
	"testing"
)

var (
	schedules = flag.Int("schedules", 1000, "how many schedules are run")
	seed      = flag.Uint64("seed", 1, "the first seed")
	steps     = flag.Int("steps", 60, "steps of a schedule")
)

func TestNoScheduleBreaksAPromise(t *testing.T) {
	for n := range *schedules {
		at := *seed + uint64(n)
		s := Draw(at, *steps)
		if err := Run(s, None); err != nil {
			small := Shrink(s, None)
			t.Fatalf("seed %d: %v\nshrunk to %d steps (%v): %v", at, err, len(small), Run(small, None), small)
		}
	}
	for _, p := range Properties {
		t.Logf("SHOW %-3s | %d schedules | 0 violations | %s", p.Name, *schedules, p.Sentence)
	}
	t.Logf("SHOW %d schedules of %d steps, seeds %d to %d: 0 violations", *schedules, *steps, *seed, *seed+uint64(*schedules)-1)
}

// What was found and mended, as it was shrunk.
func TestSchedulesThatOnceBrokeAPromise(t *testing.T) {
	for name, s := range map[string]Schedule{
		"what was set aside is lost when the server is put back, and was not offered again": pick(69845, 60, "rewind 1, save 1, push 1, rewind 1, back 2, save 1, push 1, restore 3"),
	} {
		if s == nil {
			t.Errorf("%s: the schedule is not the one it was", name)
		} else if err := Run(s, None); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// pick takes those steps out of the schedule of a seed, nil if it has others.
func pick(seed uint64, steps int, words string) Schedule {
	all, out := Draw(seed, steps), Schedule{}
	for _, word := range strings.Split(words, ", ") {
		for len(all) > 0 && (Schedule{all[0]}).String() != word {
			all = all[1:]
		}
		if len(all) == 0 {
			return nil
		}
		out, all = append(out, all[0]), all[1:]
	}
	return out
}

func TestTheSameSeedDoesTheSame(t *testing.T) {
	for seed := range uint64(20) {
		a, b := Run(Draw(seed, 60), ForgetsRefill), Run(Draw(seed, 60), ForgetsRefill)
		if (a == nil) != (b == nil) || a != nil && a.Error() != b.Error() {
			t.Errorf("seed %d: got %v, then %v", seed, a, b)
		}
	}
}

func TestEveryMistakeMadeOnPurposeIsFoundAndShrunk(t *testing.T) {
	for name, m := range map[string]Mistake{
		"a push without an answer is taken for acknowledged":  SentIsAnswered,
		"the cursor is kept before what the page says":        CursorFirst,
		"a phone does not fill up a server that was put back": ForgetsRefill,
		"what is offered again is taken for new":              RepeatsAnew,
		"a phone names as seen what it has not seen":          SeesTooMuch,
		"the server goes on as if it had not been put back":   RestoredInStealth,
	} {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(5000) {
				s := Draw(seed, 60)
				err := Run(s, m)
				if err == nil {
					continue
				}
				var v *Violation
				if !errors.As(err, &v) {
					t.Fatal(err)
				}
				small := Shrink(s, m)
				t.Logf("SHOW found at seed %d, shrunk to %d steps: %v | %v", seed, len(small), Run(small, m), small)
				return
			}
			t.Error("5,000 schedules found nothing")
		})
	}
}

func BenchmarkSchedule(b *testing.B) {
	for n := range b.N {
		if err := Run(Draw(uint64(n), 60), None); err != nil {
			b.Fatal(err)
		}
	}
}
