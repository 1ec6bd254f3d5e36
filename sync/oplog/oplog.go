// Package oplog says what a log of operations promises, and holds one in
// memory.
//
// A log promises to keep every operation it acknowledged, unchanged and in one
// order; to take an operation once however often it is offered; to notice a
// hole in a device's stream and a device that tells two stories; and never to
// let an operation without effect block the ones after it. It does not fold
// operations and does not decide their effect: a Judge is handed in.
package oplog

import (
	"context"
	"errors"
	"fmt"

	"wayfall/sync/clock"
	"wayfall/sync/op"
)

// Log keeps operations. Its implementations pass oplogtest.Run.
type Log interface {
	// Append takes the operations of b that it does not have, and returns one
	// receipt for each operation of b, in their order. When it returns without
	// error, they are durable. An operation offered again gets the receipt it
	// had. It returns a *GapError, a *ChainError or ErrBody if it takes none.
	Append(ctx context.Context, b Batch) ([]Receipt, error)
	// Read returns up to limit entries with a place after the given one, in
	// the order of their places, which is the order in which they became
	// durable: what is read once is never added to further down.
	Read(ctx context.Context, after uint64, limit int) ([]Entry, error)
	// Head returns the end of a device's stream; of one never heard of, Seq is
	// 0 and Link its genesis.
	Head(ctx context.Context, dev op.DeviceID) (Head, error)
}

// Batch is a run of operations of one device, as pushed.
type Batch struct {
	Dev    op.DeviceID
	First  uint64   // seq of the first operation
	Before op.Link  // the device's chain before the first operation
	After  op.Link  // and after the last
	Ops    [][]byte // the operations as they are spelled on the wire
}

// Head is the end of a device's stream.
type Head struct {
	Seq    uint64
	Link   op.Link
	Frozen bool // nothing the device says takes effect until a person decides
}

// Entry is an operation in the log.
type Entry struct {
	Receipt
	Wire []byte
}

// Receipt is what a server adds to an operation. It is given once.
type Receipt struct {
	Dev      op.DeviceID `json:"dev"`
	Seq      uint64      `json:"seq"`
	LSN      uint64      `json:"lsn,omitempty"` // place in the log; 0 is set aside, not in the log
	Received int64       `json:"received_ms"`   // by the server's clock, milliseconds since 1970
	Eff      clock.Stamp `json:"eff"`           // by which the operation is ordered
	Effect   Effect      `json:"effect"`
	Code     string      `json:"code,omitempty"` // why, for a program
	Why      string      `json:"why,omitempty"`  // why, for a person
}

// Effect says what becomes of an operation in the log. The zero Effect is
// unknown.
type Effect uint8

// The effects.
const (
	OK          Effect = 1 + iota // folded
	Review                        // folded, and shown to somebody
	Quarantined                   // kept, not folded, shown to somebody
	None                          // kept, not folded
)

var effectNames = [...]string{"", "ok", "review", "quarantined", "none"}

// Folded reports whether an operation of that effect is folded into records.
func (e Effect) Folded() bool { return e == OK || e == Review }

// String returns the word for the effect.
func (e Effect) String() string {
	if int(e) < len(effectNames) {
		return effectNames[e]
	}
	return fmt.Sprintf("effect %d", uint8(e))
}

// MarshalText returns the word for the effect.
func (e Effect) MarshalText() ([]byte, error) { return []byte(e.String()), nil }

// UnmarshalText reads the word for an effect.
func (e *Effect) UnmarshalText(text []byte) error {
	for i, n := range effectNames[1:] {
		if string(text) == n {
			*e = Effect(i + 1)
			return nil
		}
	}
	return errors.New("an effect is ok, review, quarantined or none")
}

// Codes that a log gives by itself.
const (
	CodeUnreadable   = "unreadable"   // not an operation, or not of that device and place
	CodeFrozen       = "frozen"       // the device was frozen before
	CodeEquivocation = "equivocation" // the device told another story before
)

// Ruling is a judge's word on one operation.
type Ruling struct {
	Effect Effect
	Code   string
	Why    string
}

// Judge decides the effect of an operation. A nil Judge finds everything OK.
type Judge func(op.Op) Ruling

// GapError says that operations before the batch are missing.
type GapError struct {
	Dev      op.DeviceID
	Expected uint64 // the seq to push first
}

// Error returns the sentence.
func (e *GapError) Error() string {
	return fmt.Sprintf("operations of device %v are missing; expected number %d first", e.Dev, e.Expected)
}

// ChainError says that the device's stream before the batch is not the one in
// the log. Offering it from the first operation shows where they part.
type ChainError struct {
	Dev op.DeviceID
	Seq uint64 // after this operation the links differ
}

// Error returns the sentence.
func (e *ChainError) Error() string {
	return fmt.Sprintf("the stream of device %v up to operation %d is not the one in the log", e.Dev, e.Seq)
}

// ErrBody says that the operations of a batch do not add up to its last link:
// something on the way changed them.
var ErrBody = errors.New("the operations do not add up to the batch's last link")

// ErrEmpty says that a batch has nothing in it.
var ErrEmpty = errors.New("a batch holds at least one operation, numbered from 1")
