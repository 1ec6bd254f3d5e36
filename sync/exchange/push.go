package exchange

import (
	"encoding/json"
	"errors"
	"io"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// pushHead is the first line of a push.
type pushHead struct {
	Push  int         `json:"push"` // version of the form
	Dev   op.DeviceID `json:"dev"`
	First uint64      `json:"first"`
	Link  op.Link     `json:"link"` // before the first operation
	Head  op.Link     `json:"head"` // after the last
	N     int         `json:"n"`
}

// WritePush writes a batch as the body of a push: a line that says what
// follows, then every operation on a line of its own.
func WritePush(w io.Writer, b oplog.Batch) error {
	head, err := json.Marshal(pushHead{1, b.Dev, b.First, b.Before, b.After, len(b.Ops)})
	if err != nil {
		return err
	}
	if err := writeLine(w, head); err != nil {
		return err
	}
	for _, wire := range b.Ops {
		if err := writeLine(w, wire); err != nil {
			return err
		}
	}
	return nil
}

func writeLine(w io.Writer, line []byte) error {
	_, err := w.Write(append(line[:len(line):len(line)], '\n'))
	return err
}

// ReadPush reads the body of a push. It returns a batch only if all of it came
// and adds up to the announced link; otherwise a *TruncatedError that says how
// many whole operations came, ErrLimit, ErrForm or oplog.ErrBody.
func ReadPush(r io.Reader, limits Limits) (oplog.Batch, error) {
	in := newLines(r, limits.Bytes)
	line, err := in.next(1 << 10)
	if err != nil {
		return oplog.Batch{}, truncated(err, 0, -1)
	}
	var h pushHead
	if json.Unmarshal(line, &h) != nil || h.Push != 1 || h.First == 0 || h.N < 1 {
		return oplog.Batch{}, badForm("the first line does not announce a push")
	}
	if h.N > limits.Ops {
		return oplog.Batch{}, ErrLimit
	}
	b := oplog.Batch{Dev: h.Dev, First: h.First, Before: h.Link, After: h.Head}
	link := h.Link
	for range h.N {
		wire, err := in.next(op.MaxBytes)
		if err != nil {
			return oplog.Batch{}, truncated(err, len(b.Ops), h.N)
		}
		link = op.Next(link, wire)
		b.Ops = append(b.Ops, wire)
	}
	// Reading to the end lets a decompressor check its sum.
	if _, err := in.next(0); !errors.Is(err, io.EOF) {
		if err == nil || errors.Is(err, ErrLimit) {
			return oplog.Batch{}, badForm("more operations came than were announced")
		}
		return oplog.Batch{}, truncated(err, len(b.Ops), h.N)
	}
	if link != h.Head {
		return oplog.Batch{}, oplog.ErrBody
	}
	return b, nil
}

// truncated says how far reading came, if it stopped because the body did.
func truncated(err error, whole, want int) error {
	var t *TruncatedError
	switch {
	case errors.As(err, &t):
		return &TruncatedError{whole, want, t.Cause}
	case errors.Is(err, io.EOF):
		return &TruncatedError{whole, want, nil}
	}
	return err
}

// WriteResults writes the answer to a push: one receipt a line.
func WriteResults(w io.Writer, receipts []oplog.Receipt) error {
	enc := json.NewEncoder(w)
	for _, r := range receipts {
		if err := enc.Encode(r); err != nil {
			return err
		}
	}
	return nil
}

// ReadResults reads the answer to a push of n operations. A device forgets
// nothing on the strength of an answer that is not whole.
func ReadResults(r io.Reader, n int) ([]oplog.Receipt, error) {
	in := newLines(r, int64(n+1)<<12)
	receipts := make([]oplog.Receipt, 0, min(n, 2000))
	for {
		line, err := in.next(4 << 10)
		if errors.Is(err, io.EOF) && len(receipts) == n {
			return receipts, nil
		}
		if err != nil {
			return nil, truncated(err, len(receipts), n)
		}
		var rc oplog.Receipt
		if json.Unmarshal(line, &rc) != nil || !whole(rc) || len(receipts) == n {
			return nil, badForm("a line is no receipt of this push")
		}
		receipts = append(receipts, rc)
	}
}

// whole reports whether a receipt says what every receipt says.
func whole(r oplog.Receipt) bool { return r.Seq > 0 && r.Effect != 0 && r.Eff.Known() }
