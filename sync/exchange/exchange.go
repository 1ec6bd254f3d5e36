// Package exchange holds the messages of sync: who has what, who lacks what.
//
// It promises that a message cut short or changed on the way is noticed and
// that nothing of it counts; and that what a message does not know is passed
// over. It opens no socket, compresses nothing and applies nothing.
//
// A hello and its welcome are one JSON object each. Pushes, their results and
// pulls are lines of JSON (one value a line, ended by a line feed), so that
// they stream and compress well; their body is sent gzipped.
package exchange

import (
	"errors"
	"fmt"

	"wayfall/sync/op"
)

// Hello opens a conversation: what the device has, and what it wants.
type Hello struct {
	Dev     op.DeviceID `json:"dev"`
	NextSeq uint64      `json:"next_seq"`         // of the device's next save
	Head    op.Link     `json:"head"`             // the device's chain after its last save
	Cursor  string      `json:"cursor,omitempty"` // as the last pull gave it
	Schema  int         `json:"schema"`           // the field table the device knows
	Now     int64       `json:"now"`              // the device's clock, milliseconds since 1970
}

// Welcome answers a hello.
type Welcome struct {
	Server      string  `json:"server"`
	Incarnation string  `json:"incarnation"`             // another one than before: the server was restored
	ExpectedSeq uint64  `json:"expected_seq"`            // push from here
	Head        op.Link `json:"head"`                    // the device's chain before that, as the server has it
	Now         int64   `json:"now"`                     // the server's clock
	Echo        int64   `json:"echo"`                    // Hello.Now, to reckon the offset by
	BackedUpLSN uint64  `json:"backed_up_lsn,omitempty"` // up to here a copy exists elsewhere
	Frozen      bool    `json:"frozen,omitempty"`        // what the device sends has no effect
	Bootstrap   bool    `json:"bootstrap,omitempty"`     // the cursor is of another time or scope: pull from the start
}

// Limits bound what a reader takes before it has checked anything.
type Limits struct {
	Ops   int   // operations in one push
	Bytes int64 // of the body, after decompression
}

// Usual are the limits of a server: what a phone sends at once is far less.
var Usual = Limits{Ops: 2000, Bytes: 4 << 20}

// ErrLimit says that a body is over a limit; the device halves its push.
var ErrLimit = errors.New("more than one push may hold; send less at once")

// ErrForm says that a body is not what it should be.
var ErrForm = errors.New("not a body of this kind")

// TruncatedError says that a body ended, or could not be decompressed, before
// it was whole. Nothing of it counts.
type TruncatedError struct {
	Whole int   // operations, receipts or items that were whole
	Want  int   // how many were announced; -1 is unknown
	Cause error // nil if the body simply ended
}

// Error returns the sentence.
func (e *TruncatedError) Error() string {
	s := fmt.Sprintf("the body was cut short after %d whole lines", e.Whole)
	if e.Want >= 0 {
		s = fmt.Sprintf("the body was cut short after %d of %d operations", e.Whole, e.Want)
	}
	if e.Cause != nil {
		s += ": " + e.Cause.Error()
	}
	return s
}

// Unwrap returns the cause.
func (e *TruncatedError) Unwrap() error { return e.Cause }
