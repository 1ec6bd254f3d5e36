package exchange

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

// lines reads a body line by line within a limit of bytes.
type lines struct {
	r     *bufio.Reader
	left  int64
	whole int // lines read so far
}

func newLines(r io.Reader, limit int64) *lines { return &lines{r: bufio.NewReader(r), left: limit} }

// next returns the next line without its line feed. The line is the caller's.
// At the end of the body it returns io.EOF; a line without its end, and any
// error of reading, is a *TruncatedError.
func (l *lines) next(longest int) ([]byte, error) {
	var line []byte
	for {
		part, err := l.r.ReadSlice('\n')
		if l.left -= int64(len(part)); l.left < 0 || len(line)+len(part) > longest+1 {
			return nil, ErrLimit
		}
		if err == nil && line == nil {
			l.whole++
			return bytes.Clone(part[:len(part)-1]), nil
		}
		line = append(line, part...)
		switch {
		case err == nil:
			l.whole++
			return line[:len(line)-1], nil
		case errors.Is(err, bufio.ErrBufferFull):
		case errors.Is(err, io.EOF) && len(line) == 0:
			return nil, io.EOF
		case errors.Is(err, io.EOF):
			return nil, &TruncatedError{Whole: l.whole, Want: -1}
		default:
			return nil, &TruncatedError{Whole: l.whole, Want: -1, Cause: err}
		}
	}
}

func badForm(detail string) error { return fmt.Errorf("%w: %s", ErrForm, detail) }
