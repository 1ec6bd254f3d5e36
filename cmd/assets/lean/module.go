package lean

import (
	"bytes"
	"encoding/binary"
)

// module is a WebAssembly program with its data as the memory it starts with.
type module struct {
	before, after []byte // the sections around the data
	memory        []byte
}

const (
	dataSection = 11
	mostMemory  = 64 << 20
	fewest      = 128 // zeros in a row that are worth a piece of their own
	i32Const    = 0x41
	end         = 0x0b
)

// reader reads the binary form; what it cannot read makes it odd.
type reader struct {
	b   []byte
	at  int
	odd bool
}

func (r *reader) uint() int {
	n, size := binary.Uvarint(r.b[r.at:])
	if size <= 0 || n > 1<<31 {
		r.odd = true
		return 0
	}
	r.at += size
	return int(n)
}

func (r *reader) bytes(n int) []byte {
	if n < 0 || r.at+n > len(r.b) {
		r.odd = true
		return nil
	}
	r.at += n
	return r.b[r.at-n : r.at]
}

func (r *reader) is(want byte) bool {
	got := r.bytes(1)
	return len(got) == 1 && got[0] == want
}

func readModule(program []byte) (*module, error) {
	r := &reader{b: program}
	if !bytes.Equal(r.bytes(8), []byte("\x00asm\x01\x00\x00\x00")) {
		return nil, ErrLayout
	}
	for r.at < len(program) && !r.odd {
		from := r.at
		id := r.bytes(1)
		body := r.bytes(r.uint())
		if !r.odd && id[0] == dataSection {
			m := &module{before: program[:from], after: program[r.at:]}
			return m, m.fill(body)
		}
	}
	return nil, ErrLayout
}

// fill lays the pieces of data into memory.
func (m *module) fill(body []byte) error {
	r := &reader{b: body}
	for range r.uint() {
		plain := r.is(0) && r.is(i32Const)
		at := r.uint()
		plain = plain && r.is(end)
		piece := r.bytes(r.uint())
		if r.odd || !plain || at+len(piece) > mostMemory {
			return ErrLayout
		}
		if more := at + len(piece) - len(m.memory); more > 0 {
			m.memory = append(m.memory, make([]byte, more)...)
		}
		copy(m.memory[at:], piece)
	}
	if r.odd || r.at != len(body) {
		return ErrLayout
	}
	return nil
}

// write writes the program with its memory in pieces between long rows of
// zeros. A piece's head costs more on the network than a short row does.
func (m *module) write() []byte {
	var body []byte
	pieces := 0
	for at := 0; at < len(m.memory); {
		if m.memory[at] == 0 {
			at++
			continue
		}
		to := at + length(m.memory[at:])
		body = append(body, 0, i32Const)
		body = append(signed(body, at), end)
		body = binary.AppendUvarint(body, uint64(to-at))
		body = append(body, m.memory[at:to]...)
		at, pieces = to, pieces+1
	}
	head := binary.AppendUvarint(nil, uint64(pieces))
	out := append(bytes.Clone(m.before), dataSection)
	out = binary.AppendUvarint(out, uint64(len(head)+len(body)))
	return append(append(append(out, head...), body...), m.after...)
}

// length returns how far a piece reaches: to the next long row of zeros.
func length(b []byte) int {
	zeros := bytes.Index(b, make([]byte, fewest))
	if zeros < 0 {
		return len(bytes.TrimRight(b, "\x00"))
	}
	return zeros
}

// signed appends an address as WebAssembly spells a signed number.
func signed(b []byte, n int) []byte {
	for {
		low := byte(n & 0x7f)
		n >>= 7
		if n == 0 && low&0x40 == 0 {
			return append(b, low)
		}
		b = append(b, low|0x80)
	}
}
