// Package simulate runs phones, a server and a bad network as one program that
// does the same again for the same seed, and checks what sync promises.
//
// A schedule is a list of steps: saves, pushes and pulls that are cut,
// repeated, kept back and delivered late, clocks that jump by years, phones
// that are lost, copied or put back from an old copy, a server that is put
// back from one. After the last step the network heals, and a small reference
// model that shares nothing with the merge says what must be there. The
// messages, the log, the merge and the seal are the real ones; the disk and
// the sockets are not, and permits' numbers are simulated in permits/escrow.
//
// It promises that one schedule has one outcome, and that a schedule that
// breaks a promise is shrunk to one from which no step can be left out.
package simulate

import (
	"fmt"
	"strings"
)

// Kind is what a step does.
type Kind uint8

// The kinds of step.
const (
	Save    Kind = iota // a phone saves something
	Push                // a phone pushes; the network may cut, keep back or repeat it
	Pull                // a phone pulls one page; it may be cut, or the phone stop while it keeps it
	Deliver             // something that was kept back on the way arrives after all
	Jump                // a phone's clock jumps, by up to ten years
	Pass                // time passes, for everybody
	Back                // a copy of the server is made
	Restore             // the server is put back from the last copy
	Copy                // a phone is copied whole, and both go on
	Rewind              // a phone is put back to an old copy of itself
	Lose                // a phone is lost for ever
	Head                // a phone keeps the signed head of the log
	Garbage             // a phone saves what is no operation
	kinds
)

var kindNames = [...]string{"save", "push", "pull", "deliver", "jump", "pass", "back", "restore", "copy", "rewind", "lose", "head", "garbage"}

// String returns the word for the kind.
func (k Kind) String() string { return kindNames[k] }

// Step is one step of a schedule. Who chooses the phone; A and B choose what
// happens to it, so that a step means the same wherever it stands.
type Step struct {
	Kind Kind
	Who  int
	A, B uint64
}

// Schedule is what happens, in order.
type Schedule []Step

// String lists the steps' kinds and phones.
func (s Schedule) String() string {
	words := make([]string, len(s))
	for i, x := range s {
		words[i] = fmt.Sprintf("%v %d", x.Kind, x.Who)
	}
	return strings.Join(words, ", ")
}

// Phones is how many phones a schedule begins with.
const Phones = 4

// often says how often each kind is drawn, out of their sum.
var often = [kinds]int{Save: 30, Push: 24, Pull: 16, Deliver: 8, Jump: 3, Pass: 5, Back: 2, Restore: 2, Copy: 1, Rewind: 1, Lose: 1, Head: 3, Garbage: 1}

// Draw returns the schedule of that seed with n steps.
func Draw(seed uint64, n int) Schedule {
	c := chance(seed)
	sum := 0
	for _, w := range often {
		sum += w
	}
	s := make(Schedule, n)
	for i := range s {
		at, k := c.below(sum), Kind(0)
		for at >= often[k] {
			at -= often[k]
			k++
		}
		s[i] = Step{k, c.below(Phones), c.next(), c.next()}
	}
	return s
}

// Properties is what every schedule is held against.
var Properties = []struct{ Name, Sentence string }{
	{"P1", "any order and repetition of the same operations makes the same record, on every phone and on the server"},
	{"P2", "parts of the log join to the whole, whichever comes first"},
	{"P3", "a snapshot and what followed make the whole"},
	{"P4", "a writing is gone only if somebody replaced it who had seen it, or its own device wrote again"},
	{"P7", "a phone reads what it just wrote"},
	{"P9", "an element is gone from a set only if somebody took it out who had seen it"},
	{"P11", "a push that is repeated or cut at any byte leaves the same log"},
	{"P12", "what was acknowledged is there"},
	{"P13", "after the server was put back, everything that any phone holds is there again"},
	{"P14", "pulling from any cursor gives every place once, in order"},
	{"P18", "once the network heals, every outbox is empty after a few rounds"},
	{"P23", "stamps of a device only grow, and nothing is ordered long after its receipt"},
	{"P24", "what is live does not depend on the devices' clocks"},
	{"P25", "what is in the log is byte for byte what was saved, known to this release or not"},
	{"P26", "a head that a phone kept is the beginning of the log, and a changed receipt is found"},
	{"P27", "of a device that tells two stories both are kept, and it is stopped"},
}

// Violation is a promise that was broken.
type Violation struct {
	Property string // P1, P2 …
	What     string
}

// Error returns the sentence.
func (v *Violation) Error() string { return v.Property + ": " + v.What }

func broken(property, format string, args ...any) error {
	return &Violation{property, fmt.Sprintf(format, args...)}
}

// Mistake is one that is made on purpose, to see that it is found.
type Mistake uint8

// The mistakes.
const (
	None              Mistake = iota
	SentIsAnswered            // a phone takes a push for acknowledged that got no answer
	CursorFirst               // a phone keeps the cursor before what the page says
	ForgetsRefill             // a phone pushes only what was never answered, whatever the server expects
	RepeatsAnew               // the server takes what is offered again for new
	SeesTooMuch               // a phone names as seen what it has not seen
	ClockDecides              // of two values the later stamp wins, seen or not
	RestoredInStealth         // the server goes on after it was put back as if nothing had been
)

// Run runs the schedule and returns the first promise that it breaks, a
// *Violation, or nil.
func Run(s Schedule, m Mistake) error {
	w := newWorld(m)
	for _, x := range s {
		if err := w.step(x); err != nil {
			return err
		}
	}
	if err := w.heal(); err != nil {
		return err
	}
	return w.check(s)
}

// Shrink returns a part of a schedule that still breaks a promise, from which
// no single step can be left out.
func Shrink(s Schedule, m Mistake) Schedule {
	for size := max(len(s)/2, 1); ; {
		cut := false
		for at := 0; at < len(s); {
			less := append(append(Schedule{}, s[:at]...), s[min(at+size, len(s)):]...)
			if Run(less, m) != nil {
				s, cut = less, true
			} else {
				at += size
			}
		}
		switch {
		case size > 1:
			size = max(size/2, 1)
		case !cut:
			return s
		}
	}
}

// chance is a source of chance that is the same everywhere (SplitMix64;
// Steele, Lea and Flood, Fast Splittable Pseudorandom Number Generators, 2014).
type chance uint64

func (c *chance) next() uint64 {
	*c += 0x9e3779b97f4a7c15
	z := uint64(*c)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

func (c *chance) below(n int) int { return int(c.next() % uint64(n)) }
