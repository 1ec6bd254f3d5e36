package api

import (
	"fmt"
	"testing"
	"time"
)

func TestTriesComeBackAtAPace(t *testing.T) {
	now := time.Unix(1_000_000, 0)
	r := newRate(3, 10*time.Second)
	for n := range 3 {
		if wait := r.take("a", now); wait != 0 {
			t.Errorf("try %d: got a wait of %v, want none", n+1, wait)
		}
	}
	if wait := r.take("a", now); wait != 10*time.Second {
		t.Errorf("the fourth try: got a wait of %v, want 10 s", wait)
	}
	if wait := r.take("b", now); wait != 0 {
		t.Errorf("another address: got a wait of %v, want none", wait)
	}
	if wait := r.take("a", now.Add(10*time.Second)); wait != 0 {
		t.Errorf("after 10 s: got a wait of %v, want none", wait)
	}
	if wait := r.take("a", now.Add(-time.Hour)); wait == 0 {
		t.Error("a clock that goes back gives a free try")
	}
}

func TestManyAddressesCannotFillTheMemory(t *testing.T) {
	now := time.Unix(1_000_000, 0)
	r := newRate(2, time.Second)
	for n := range 50_000 {
		r.take(fmt.Sprint(n), now)
	}
	if len(r.known) > r.cap {
		t.Errorf("remembers %d addresses, want at most %d", len(r.known), r.cap)
	}
	later := now.Add(time.Minute)
	if wait := r.take("new", later); wait != 0 || len(r.known) > 2 {
		t.Errorf("after a quiet minute: wait %v with %d addresses, want none and the old ones forgotten", wait, len(r.known))
	}
}
