package clock

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

var noon = time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)

func TestStampsOnlyGrowWhateverTheWallClockDoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var last Stamp
	for i := range 100_000 {
		jump := time.Duration(rng.Int64N(int64(20*365*24*time.Hour))) - 10*365*24*time.Hour
		if i%3 > 0 {
			jump = time.Duration(rng.IntN(3)-1) * time.Millisecond
		}
		text := last.String()
		if last.Known() { // a restart between any two stamps
			kept, err := Parse(text)
			if err != nil || kept != last {
				t.Fatalf("after a restart: got %v (%v), want %v", kept, err, last)
			}
		}
		next := last.Next(noon.Add(jump))
		if next.Compare(last) <= 0 {
			t.Fatalf("stamp %d: got %v after %v, want a later one", i, next, last)
		}
		last = next
	}
}

func TestNext(t *testing.T) {
	ms := noon.UnixMilli()
	for _, c := range []struct {
		name string
		last Stamp
		now  time.Time
		want Stamp
	}{
		{"the first stamp takes the wall clock", Stamp{}, noon, Stamp{ms, 0}},
		{"within one millisecond the counter counts", Stamp{ms, 4}, noon, Stamp{ms, 5}},
		{"a clock set back does not set the stamp back", Stamp{ms + 9000, 0}, noon, Stamp{ms + 9000, 1}},
		{"a full counter moves to the next millisecond", Stamp{ms, 65535}, noon, Stamp{ms + 1, 0}},
		{"a clock before 1970 still gives a known stamp", Stamp{}, time.UnixMilli(-5), Stamp{0, 1}},
	} {
		if got := c.last.Next(c.now); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestEffectiveNeverRunsAheadOfReceipt(t *testing.T) {
	ms := noon.UnixMilli()
	for _, c := range []struct {
		name      string
		own, want Stamp
	}{
		{"an honest stamp stands", Stamp{ms - 60_000, 7}, Stamp{ms - 60_000, 7}},
		{"a stamp one second ahead stands", Stamp{ms + 1000, 0}, Stamp{ms + 1000, 0}},
		{"a stamp further ahead is held at one second", Stamp{ms + 1000, 1}, Stamp{ms + 1000, 0}},
		{"ten years ahead is held at one second", At(noon.AddDate(10, 0, 0)), Stamp{ms + 1000, 0}},
		{"an unknown stamp takes the receipt's", Stamp{}, Stamp{ms + 1000, 0}},
	} {
		if got := Effective(c.own, noon); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestOneFastPhoneDragsNobodyFurtherThanTheLead(t *testing.T) {
	fast := At(noon.AddDate(10, 0, 0))
	server := At(noon).Receive(Effective(fast, noon), noon)
	if ahead := server.Time().Sub(noon); ahead > Lead {
		t.Errorf("server's stamp is %v ahead of its clock, want at most %v", ahead, Lead)
	}
}

func TestReceiveStampsLaterThanWhatWasReceived(t *testing.T) {
	slow := At(noon.Add(-time.Hour))
	seen := Stamp{noon.UnixMilli(), 12}
	if got := slow.Receive(seen, noon.Add(-time.Hour)); got.Compare(seen) <= 0 {
		t.Errorf("got %v after receiving %v, want later", got, seen)
	}
}

func TestEarlierIsAJoin(t *testing.T) {
	all := []Stamp{{}, {1, 0}, {1, 1}, {2, 0}}
	for _, a := range all {
		for _, b := range all {
			if Earlier(a, b) != Earlier(b, a) || Earlier(a, a) != a {
				t.Errorf("Earlier of %v and %v depends on their order", a, b)
			}
			for _, c := range all {
				if l, r := Earlier(Earlier(a, b), c), Earlier(a, Earlier(b, c)); l != r {
					t.Errorf("Earlier of %v, %v, %v: got %v and %v by grouping", a, b, c, l, r)
				}
			}
		}
	}
}

func TestParseRefusesOtherSpellings(t *testing.T) {
	for _, text := range []string{"", ".", "1", "1.", ".1", "01.0", "1.00", "+1.0", "-1.0", "1.65536", "1.0 ", "140737488355328.0", "0.0", "1_0.0"} {
		if s, err := Parse(text); err == nil {
			t.Errorf("Parse(%q): got %v, want a refusal", text, s)
		}
	}
}

func TestPackedOrdersAsTheStamp(t *testing.T) {
	all := []Stamp{{0, 1}, {1, 0}, {1, 65535}, {2, 0}, {maxMillis, 65535}}
	for i, s := range all {
		if Unpack(s.Packed()) != s {
			t.Errorf("got %v back, want %v", Unpack(s.Packed()), s)
		}
		if i > 0 && s.Packed() <= all[i-1].Packed() {
			t.Errorf("%v packs no higher than %v", s, all[i-1])
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add("1764061562000.3")
	f.Fuzz(func(t *testing.T, text string) {
		if s, err := Parse(text); err == nil && s.String() != text {
			t.Errorf("two spellings of one stamp: %q and %q", text, s)
		}
	})
}

func ExampleStamp_Next() {
	last, _ := Parse("1764061562000.3")
	fmt.Println(last.Next(time.UnixMilli(1764061562000))) // the clock stood still
	fmt.Println(last.Next(time.UnixMilli(1764061561000))) // the clock was set back
	fmt.Println(last.Next(time.UnixMilli(1764061563000)))
	// Output:
	// 1764061562000.4
	// 1764061562000.4
	// 1764061563000.0
}
