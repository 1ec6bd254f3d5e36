// Package peopletest holds the test that every store of people must pass.
package peopletest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"testing"

	"wayfall/server/people"
)

// Run checks that a store keeps its promises. open must return an empty store.
func Run(t *testing.T, open func(t *testing.T) people.Store) {
	t.Run("a paper that was never kept reads as none", func(t *testing.T) { readsNone(t, open(t)) })
	t.Run("what was kept is read back, shelf by shelf", func(t *testing.T) { readsBack(t, open(t)) })
	t.Run("a change that fails keeps the old paper", func(t *testing.T) { failsClean(t, open(t)) })
	t.Run("changes of one paper never come between one another", func(t *testing.T) { counts(t, open(t)) })
}

func readsNone(t *testing.T, s people.Store) {
	got, err := s.Read(t.Context(), "shelf", "paper")
	if got != nil || err != nil {
		t.Errorf("got %q and %v, want none and no error", got, err)
	}
	all, err := s.List(t.Context(), "shelf")
	if len(all) != 0 || err != nil {
		t.Errorf("got %d papers and %v, want none and no error", len(all), err)
	}
}

func keep(t *testing.T, s people.Store, shelf, name, text string) {
	t.Helper()
	err := s.Change(t.Context(), shelf, name, func([]byte) ([]byte, error) { return []byte(text), nil })
	if err != nil {
		t.Fatalf("keep %s/%s: %v", shelf, name, err)
	}
}

func readsBack(t *testing.T, s people.Store) {
	keep(t, s, "a", "one", "1")
	keep(t, s, "a", "two", "2")
	keep(t, s, "b", "one", "3")
	for _, c := range []struct{ shelf, name, want string }{{"a", "one", "1"}, {"a", "two", "2"}, {"b", "one", "3"}} {
		if got, err := s.Read(t.Context(), c.shelf, c.name); string(got) != c.want || err != nil {
			t.Errorf("%s/%s: got %q and %v, want %q", c.shelf, c.name, got, err, c.want)
		}
	}
	all, err := s.List(t.Context(), "a")
	if err != nil || len(all) != 2 || string(all["one"]) != "1" || string(all["two"]) != "2" {
		t.Errorf("got shelf a as %q and %v, want one=1 and two=2", all, err)
	}
}

func failsClean(t *testing.T, s people.Store) {
	keep(t, s, "a", "one", "before")
	sorry := errors.New("no")
	err := s.Change(t.Context(), "a", "one", func(old []byte) ([]byte, error) {
		if !bytes.Equal(old, []byte("before")) {
			t.Errorf("edit was handed %q, want %q", old, "before")
		}
		return []byte("after"), sorry
	})
	if !errors.Is(err, sorry) {
		t.Errorf("got %v, want the edit's own error", err)
	}
	if got, _ := s.Read(t.Context(), "a", "one"); string(got) != "before" {
		t.Errorf("got %q, want %q", got, "before")
	}
}

func counts(t *testing.T, s people.Store) {
	const hands, times = 8, 10
	var all sync.WaitGroup
	for range hands {
		all.Go(func() {
			for range times {
				if err := s.Change(context.Background(), "n", "count", addOne); err != nil {
					t.Errorf("change: %v", err)
				}
			}
		})
	}
	all.Wait()
	got, err := s.Read(t.Context(), "n", "count")
	if want := fmt.Sprint(hands * times); string(got) != want || err != nil {
		t.Errorf("got %q and %v, want %q", got, err, want)
	}
}

func addOne(old []byte) ([]byte, error) {
	n := 0
	if old != nil {
		var err error
		if n, err = strconv.Atoi(string(old)); err != nil {
			return nil, err
		}
	}
	return []byte(strconv.Itoa(n + 1)), nil
}
