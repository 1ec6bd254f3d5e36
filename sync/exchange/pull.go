package exchange

import (
	"encoding/json"
	"errors"
	"io"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Page is one page of a pull.
type Page struct {
	Entries []oplog.Entry // Wire is nil where the operation was unreadable
	Cursor  string        // where the next page begins; store it with what the page says
	More    bool
}

// pullItem is an operation with its receipt, on one line.
type pullItem struct {
	Op      json.RawMessage `json:"op,omitempty"`
	Receipt *oplog.Receipt  `json:"receipt,omitempty"`
	Cursor  string          `json:"cursor,omitempty"`
	More    *bool           `json:"more,omitempty"`
}

// WritePull writes a page: one operation with its receipt a line, and at the
// end the line with the cursor, without which the page does not count.
func WritePull(w io.Writer, p Page) error {
	for _, e := range p.Entries {
		receipt, err := json.Marshal(e.Receipt)
		if err != nil {
			return err
		}
		line := make([]byte, 0, len(e.Wire)+len(receipt)+24)
		line = append(line, '{')
		if e.Code != oplog.CodeUnreadable {
			line = append(append(append(line, `"op":`...), e.Wire...), ',')
		}
		line = append(append(append(line, `"receipt":`...), receipt...), '}')
		if err := writeLine(w, line); err != nil {
			return err
		}
	}
	line, err := json.Marshal(pullItem{Cursor: p.Cursor, More: &p.More})
	if err != nil {
		return err
	}
	return writeLine(w, line)
}

// ReadPull reads a page. It returns one only if its end came, otherwise a
// *TruncatedError, ErrLimit or ErrForm. Lines of a form that this release does
// not know are passed over.
func ReadPull(r io.Reader, limit int64) (Page, error) {
	in := newLines(r, limit)
	var p Page
	for {
		line, err := in.next(op.MaxBytes + 4<<10)
		if err != nil {
			return Page{}, truncated(err, len(p.Entries), -1)
		}
		var it pullItem
		if err := json.Unmarshal(line, &it); err != nil {
			return Page{}, badForm("a line is not JSON")
		}
		switch {
		case it.More != nil && it.Cursor != "":
			p.Cursor, p.More = it.Cursor, *it.More
			if _, err := in.next(0); !errors.Is(err, io.EOF) {
				return Page{}, truncatedOr(err, len(p.Entries), "something follows the cursor")
			}
			return p, nil
		case it.Receipt != nil && !whole(*it.Receipt):
			return Page{}, badForm("a receipt lacks what every receipt says")
		case it.Receipt != nil:
			p.Entries = append(p.Entries, oplog.Entry{Receipt: *it.Receipt, Wire: it.Op})
		}
	}
}

func truncatedOr(err error, whole int, detail string) error {
	var t *TruncatedError
	if errors.As(err, &t) {
		return &TruncatedError{whole, -1, t.Cause}
	}
	return badForm(detail)
}
