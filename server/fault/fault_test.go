package fault

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"testing"
)

func TestKindSurvivesWrapping(t *testing.T) {
	first := New(Stale, "the record has moved on").At("/base", "is 4, now 9")
	err := Wrap(fmt.Errorf("save: %w", first), "save report %s", "r1")
	if got := KindOf(err); got != Stale {
		t.Errorf("got kind %v, want %v", got, Stale)
	}
	if got, want := Pointers(err), []Pointer{{"/base", "is 4, now 9"}}; !slices.Equal(got, want) {
		t.Errorf("got pointers %v, want %v", got, want)
	}
	if got, want := err.Error(), "save report r1: save: the record has moved on"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if !errors.Is(err, first) {
		t.Error("the cause is lost")
	}
}

func TestAnUnclassifiedErrorIsOurs(t *testing.T) {
	if got := KindOf(io.ErrUnexpectedEOF); got != Internal {
		t.Errorf("got %v, want %v", got, Internal)
	}
	if got := Sentence(Wrap(io.ErrUnexpectedEOF, "read the drawer")); got != "" {
		t.Errorf("a person is told %q of an inner error, want nothing", got)
	}
	if err := As(Busy, io.ErrClosedPipe, "the store is closing"); KindOf(err) != Busy || Sentence(err) != "the store is closing" {
		t.Errorf("got %v %q", KindOf(err), Sentence(err))
	}
}

func TestNilStaysNil(t *testing.T) {
	if Wrap(nil, "x") != nil || As(Busy, nil, "x") != nil || Is(nil, Internal) {
		t.Error("a nil error became a fault")
	}
}

func TestAtDoesNotChangeItsReceiver(t *testing.T) {
	base := New(Invalid, "two things are wrong")
	a, b := base.At("/a", "x"), base.At("/b", "y")
	if len(base.Pointers) != 0 || a.Pointers[0].Pointer != "/a" || b.Pointers[0].Pointer != "/b" {
		t.Errorf("got %v, %v, %v", base.Pointers, a.Pointers, b.Pointers)
	}
}

func TestEveryKindHasAName(t *testing.T) {
	seen := map[string]bool{}
	for k := Internal; k <= Unsupported; k++ {
		if seen[k.String()] {
			t.Errorf("two kinds are called %q", k)
		}
		seen[k.String()] = true
	}
}

func ExampleNew() {
	err := Wrap(New(Missing, "no report %s", "r1"), "print label")
	fmt.Println(KindOf(err), "-", err)
	// Output: missing - print label: no report r1
}
