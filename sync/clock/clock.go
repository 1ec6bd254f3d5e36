// Package clock makes the stamps that put changes of several devices in an
// order people recognise: hybrid logical clocks after Kulkarni, Demirbas,
// Madappa, Avva and Leone, Logical Physical Clocks, OPODIS 2014.
//
// It promises that the stamps of one device only grow, whatever its wall clock
// does, and that a device stamps later than everything it has received. It
// orders what people see and who wins a last-writer field. It does not decide
// what replaces what, and nothing with legal weight may rest on a stamp. It
// never reads a clock itself: the time is handed in.
package clock

import (
	"errors"
	"strconv"
	"strings"
	"time"
)

// Lead is how far ahead of its receipt a stamp may order a change. A stamp
// from a fast clock is kept as it is and ordered no later than this.
const Lead = time.Second

// maxMillis keeps a stamp inside 47 bits of milliseconds, in the year 6429, so
// that Packed never turns negative.
const maxMillis = 1<<47 - 1

// Stamp is one reading of a hybrid logical clock. The zero Stamp is unknown.
type Stamp struct {
	Millis  int64  // milliseconds since 1970-01-01T00:00:00Z
	Counter uint16 // order within one millisecond
}

// ErrStamp says that a text is not a stamp.
var ErrStamp = errors.New("a stamp is written as milliseconds, a point and a counter, without leading zeros")

// At returns the first stamp of the millisecond in which t lies. A time
// before 1970 or past the year 6429 is moved to the nearest stamp there is.
func At(t time.Time) Stamp { return Stamp{Millis: inRange(t.UnixMilli())} }

func inRange(ms int64) int64 { return min(max(ms, 0), maxMillis) }

// Known reports whether s is a stamp at all.
func (s Stamp) Known() bool { return s != Stamp{} }

// Compare returns -1, 0 or +1 as s orders before, with or after t.
func (s Stamp) Compare(t Stamp) int {
	switch {
	case s.Millis < t.Millis, s.Millis == t.Millis && s.Counter < t.Counter:
		return -1
	case s == t:
		return 0
	}
	return 1
}

// Next returns the stamp that follows s on a device whose wall clock shows
// now. It is always later than s, even when now is not.
func (s Stamp) Next(now time.Time) Stamp {
	if n := At(now); n.Compare(s) > 0 {
		return n
	}
	if s.Counter < 1<<16-1 {
		return Stamp{s.Millis, s.Counter + 1}
	}
	return Stamp{s.Millis + 1, 0}
}

// Receive returns the stamp of a device whose last stamp was s after it has
// taken in a change ordered at eff while its wall clock shows now. Hand it the
// effective stamp of the receipt, not the raw one: a device with a fast clock
// then drags nobody further than Lead.
func (s Stamp) Receive(eff Stamp, now time.Time) Stamp {
	if eff.Compare(s) > 0 {
		s = eff
	}
	return s.Next(now)
}

// Effective returns the stamp by which a change is ordered: its own, but no
// later than Lead after the server received it.
func Effective(own Stamp, received time.Time) Stamp {
	latest := At(received.Add(Lead))
	if !own.Known() || own.Compare(latest) > 0 {
		return latest
	}
	return own
}

// Earlier returns the earlier of two effective stamps; an unknown one gives
// way to a known one. Two servers' receipts of one change agree through it.
func Earlier(a, b Stamp) Stamp {
	if !a.Known() || b.Known() && b.Compare(a) < 0 {
		return b
	}
	return a
}

// Time returns the wall time in s, in UTC.
func (s Stamp) Time() time.Time { return time.UnixMilli(s.Millis).UTC() }

// Packed returns s as one whole number that orders as s does.
func (s Stamp) Packed() int64 { return s.Millis<<16 | int64(s.Counter) }

// Unpack returns the stamp that Packed gave p.
func Unpack(p int64) Stamp { return Stamp{p >> 16, uint16(p & (1<<16 - 1))} }

// String returns s as it stands on the wire: "1764061562000.3".
func (s Stamp) String() string { return string(s.Append(nil)) }

// Append appends the wire form of s to b.
func (s Stamp) Append(b []byte) []byte {
	b = strconv.AppendInt(b, s.Millis, 10)
	return strconv.AppendUint(append(b, '.'), uint64(s.Counter), 10)
}

// Parse reads the wire form of a stamp, and no other spelling of it.
func Parse(text string) (Stamp, error) {
	ms, counter, ok := strings.Cut(text, ".")
	m, errM := strconv.ParseUint(ms, 10, 47)
	c, errC := strconv.ParseUint(counter, 10, 16)
	s := Stamp{int64(m), uint16(c)}
	if !ok || errM != nil || errC != nil || padded(ms) || padded(counter) || !s.Known() {
		return Stamp{}, ErrStamp
	}
	return s, nil
}

func padded(digits string) bool { return len(digits) > 1 && digits[0] == '0' }

// MarshalText writes the wire form, for keeping a stamp across a restart.
func (s Stamp) MarshalText() ([]byte, error) { return s.Append(nil), nil }

// UnmarshalText reads the wire form.
func (s *Stamp) UnmarshalText(text []byte) (err error) {
	*s, err = Parse(string(text))
	return err
}
