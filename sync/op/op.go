// Package op is the operation: one save by one device, the unit of sync, of
// audit and of undoing nothing; and its one spelling on the wire, canonical
// JSON after RFC 8785.
//
// It promises that an operation has exactly one spelling, so that its bytes
// can be hashed and compared; that what this release does not know in an
// operation is kept and written again byte for byte; and that what was
// readable once stays readable. It does not decide what an operation means or
// whether it is allowed, and it never changes one.
//
// The hash chain that binds a device's operations stands beside them, not
// inside: see Link.
package op

import (
	"errors"
	"fmt"

	"wayfall/sync/clock"
)

// Limits of one operation. An operation over a limit is not one.
const (
	MaxBytes = 64 << 10 // of the whole operation
	MaxActs  = 256      // over all records of the operation
	MaxText  = 16 << 10 // of one string in it, in UTF-8
	MaxDepth = 16       // arrays and objects inside each other
)

// Version is the version of the form that this release writes.
const Version = 1

// Op is one save by one device, atomic over every record it touches.
type Op struct {
	Dev    DeviceID
	Seq    uint64      // 1 for a device's first, without holes
	HLC    clock.Stamp // orders what people see, nothing else
	Wall   Wall
	Actor  string // the person who saved
	Scope  string // the institution
	Base   uint64 // the highest place in the server's log the device had applied; 0 is none
	Schema int    // of the field table the device wrote by
	On     []Group
	Extra  []Member // members this release does not know
}

// Wall is what the device's own clock said.
type Wall struct {
	Millis int64  // since 1970-01-01T00:00:00Z
	Zone   string // offset from UTC, "-04:00"; "" is unknown
	Source string // "device", "server" or "gnss"; "" is unknown
	Extra  []Member
}

// Group is what an operation does to one record.
type Group struct {
	ID    ID
	Kind  string // of the record, a word of sync/record
	Acts  []Act
	Extra []Member
}

// Kinds of act. An act of any other kind is kept whole in Extra.
const (
	KindSet   = "set" // write a field, replacing exactly what the writer saw
	KindAdd   = "add" // put an element into a set
	KindRem   = "rem" // take out exactly the elements the writer saw
	KindEvent = "evt" // append a fact
)

// Act is one change to one field.
type Act struct {
	Kind  string
	Field string
	Value Value // of set, add and evt
	Saw   []Dot // of set and rem: what the writer saw and replaces
	Extra []Member
}

// Member is one member of an object that this release does not know.
type Member struct {
	Name  string
	Value Value
}

// Set returns the act that writes v to the field in place of what was seen.
func Set(field string, v Value, saw ...Dot) Act {
	return Act{Kind: KindSet, Field: field, Value: v, Saw: saw}
}

// Add returns the act that puts v into the set.
func Add(field string, v Value) Act { return Act{Kind: KindAdd, Field: field, Value: v} }

// Remove returns the act that takes the elements with those dots out of the set.
func Remove(field string, saw ...Dot) Act { return Act{Kind: KindRem, Field: field, Saw: saw} }

// Event returns the act that appends the fact v.
func Event(field string, v Value) Act { return Act{Kind: KindEvent, Field: field, Value: v} }

// Acts returns how many acts the operation has, over all its records.
func (o Op) Acts() int {
	n := 0
	for _, g := range o.On {
		n += len(g.Acts)
	}
	return n
}

// Dot returns the dot of the operation's act number index, counted from 0
// through all its records.
func (o Op) Dot(index int) Dot { return Dot{o.Dev, o.Seq, uint32(index)} }

// Reasons why something is not an operation. Match them with errors.Is.
var (
	ErrVersion      = errors.New("written in a later form than this release reads")
	ErrNotCanonical = errors.New("not in canonical form")
	ErrTooLarge     = errors.New("over a limit")
	ErrMalformed    = errors.New("malformed")
)

// FormError says where and why bytes are not an operation, or not canonical
// JSON. It unwraps to one of the reasons above.
type FormError struct {
	Reason error
	Offset int    // in bytes; -1 when the whole is meant
	Detail string // one clause
}

// Error returns the sentence.
func (e *FormError) Error() string {
	if e.Offset < 0 {
		return fmt.Sprintf("%v: %s", e.Reason, e.Detail)
	}
	return fmt.Sprintf("%v at byte %d: %s", e.Reason, e.Offset, e.Detail)
}

// Unwrap returns the reason.
func (e *FormError) Unwrap() error { return e.Reason }
