// Package view reads a folded record with the types of its fields, so that
// every floor above asks for "the place" and not for bytes.
//
// It promises to lose nothing on the way: beside the value that is shown stand
// all values that differ, each with who wrote it, when and on which device,
// and a value that does not have the form its field asks for is kept as it
// came and said to be ill-formed. It decides nothing.
package view

import (
	"time"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Said is one value, and who said it.
type Said[T any] struct {
	Value  T
	Raw    op.Value
	Ill    bool // Raw does not have the form of the field; Value is then zero
	By     []merge.Hand
	Actor  string
	Device op.DeviceID
	At     time.Time // by the device's own clock; zero is unknown
	LSN    uint64    // place in the server's log; 0 until there is a receipt
}

// Value is a field that holds one value, or several that differ.
type Value[T any] struct {
	Shown   T
	Known   bool // somebody wrote a well-formed value
	Differs bool // hands that had not seen each other left different values
	All     []Said[T]
}

// Dots returns the dots of all values: what a writer who saw them replaces.
func (v Value[T]) Dots() []op.Dot {
	var dots []op.Dot
	for _, s := range v.All {
		for _, h := range s.By {
			dots = append(dots, h.Dot)
		}
	}
	return dots
}

// Read returns the register of that name.
func Read[T any](s merge.State, field string) Value[T] {
	f := s.Field(field)
	v := Value[T]{Differs: f.Differs(), All: said[T](f.Values)}
	for _, one := range v.All {
		if !one.Ill {
			v.Shown, v.Known = one.Value, true
			break
		}
	}
	return v
}

// Elements returns the elements of the set of that name, oldest first.
func Elements[T any](s merge.State, field string) []Said[T] {
	return said[T](s.Field(field).Elements)
}

// Events returns the facts of the log of that name, oldest first.
func Events[T any](s merge.State, field string) []Said[T] {
	return said[T](s.Field(field).Events)
}

func said[T any](values []merge.Value) []Said[T] {
	if len(values) == 0 {
		return nil
	}
	all := make([]Said[T], len(values))
	for i, v := range values {
		all[i] = Said[T]{Raw: v.JSON, By: v.By}
		if err := v.JSON.Into(&all[i].Value); err != nil {
			var zero T
			all[i].Value, all[i].Ill = zero, true
		}
		if len(v.By) > 0 {
			h := v.By[0]
			all[i].Actor, all[i].Device, all[i].LSN = h.Actor, h.Dot.Dev, h.LSN
			if h.Wall.Millis != 0 {
				all[i].At = time.UnixMilli(h.Wall.Millis).In(zoneOf(h.Wall.Zone))
			}
		}
	}
	return all
}

func zoneOf(offset string) *time.Location {
	t, err := time.Parse("-07:00", offset)
	if err != nil {
		return time.UTC
	}
	_, seconds := t.Zone()
	return time.FixedZone(offset, seconds)
}

// Values returns the values of a list of things said, without the ill-formed.
func Values[T any](all []Said[T]) []T {
	var out []T
	for _, s := range all {
		if !s.Ill {
			out = append(out, s.Value)
		}
	}
	return out
}

// When returns the bounds of a time as a person knows it, as instants. ok is
// false if nobody knows. Without a zone the given one counts.
func When(w record.When, zone *time.Location) (earliest, latest time.Time, ok bool) {
	if w.Zone != "" {
		zone = zoneOf(w.Zone)
	}
	earliest, err := time.ParseInLocation("2006-01-02T15:04", w.Earliest, zone)
	if err != nil {
		return time.Time{}, time.Time{}, false
	}
	latest, err = time.ParseInLocation("2006-01-02T15:04", w.Latest, zone)
	if err != nil || latest.Before(earliest) {
		latest = earliest
	}
	return earliest, latest, true
}
