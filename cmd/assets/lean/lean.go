// Package lean makes a Go program for WebAssembly smaller without changing
// what it does: it takes out what only a stack trace reads (names, files and
// lines of functions, and which were inlined) and writes the program's data in
// fewer pieces.
//
// It promises that the program keeps every table that runs it: frame sizes,
// stack maps, deferred calls, types. It knows the one layout of the tables
// that current Go writes, checks everything it touches against it, and refuses
// a program that looks otherwise. A trace of a lean program is bare; build it
// without this step to see one.
package lean

import (
	"bytes"
	"encoding/binary"
	"errors"
	"slices"
)

// ErrLayout says that the program is not laid out as this package knows it.
var ErrLayout = errors.New("the program's tables are laid out in an unknown way")

// Thin returns the program without what only a stack trace reads. Thinning
// twice is thinning once.
func Thin(program []byte) ([]byte, error) {
	m, err := readModule(program)
	if err != nil {
		return nil, err
	}
	t, err := findTables(m.memory)
	if err != nil {
		return nil, err
	}
	if err := t.thin(); err != nil {
		return nil, err
	}
	m.memory = t.memory
	return m.write(), nil
}

// Parts of the table of functions, as the linker writes them since Go 1.20
// (cmd/link/internal/ld/pcln.go, runtime/symtab.go, runtime/runtime2.go).
const (
	magic      = "\xf1\xff\xff\xff\x00\x00\x01\x08" // Go 1.20 and later, 8-byte pointers
	headerSize = 72

	inlineTree = 2  // of the tables by place in the program: abi.PCDATA_InlTreeIndex
	inlineData = 3  // of the tables by function: abi.FUNCDATA_InlTree
	callSize   = 16 // of one inlined call
	noData     = 0xffffffff

	moduleGofunc = 40 // the word of the module's description that says where those lie
)

// tables is the table of functions inside the program's memory.
type tables struct {
	memory    []byte
	odd       bool // something lay outside, or was not what it must be
	functions int
	names     span // names of functions
	files     span // names of files
	steps     span // tables by place in the program
	index     int  // where the functions' descriptions begin
	gofunc    int  // where the tables by function begin
}

type span struct{ from, to int }

func findTables(memory []byte) (*tables, error) {
	t := &tables{memory: slices.Clone(memory)}
	at := bytes.Index(memory, []byte(magic))
	if at < 0 {
		return nil, ErrLayout
	}
	var part [8]int
	for i := range part {
		part[i] = t.word(at + 8 + 8*i)
	}
	t.functions = part[0]
	t.names = span{at + part[3], at + part[4]}
	t.files = span{at + part[4], at + part[6]}
	t.steps = span{at + part[6], at + part[7]}
	t.index = at + part[7]
	if t.odd || part[3] != headerSize || t.functions < 1 || t.functions > 1<<20 || !slices.IsSorted(part[3:]) || t.index > len(memory) {
		return nil, ErrLayout
	}
	return t, t.findModule(at)
}

// findModule looks for the module's description by what it begins with.
func (t *tables) findModule(header int) error {
	begin := binary.LittleEndian.AppendUint64(nil, uint64(header))
	begin = binary.LittleEndian.AppendUint64(begin, uint64(t.names.from))
	begin = binary.LittleEndian.AppendUint64(begin, uint64(t.names.to-t.names.from))
	at := bytes.Index(t.memory, begin)
	if at < 0 || bytes.Contains(t.memory[at+1:], begin) {
		return ErrLayout
	}
	t.gofunc = t.word(at + 8*moduleGofunc)
	if t.odd || t.word(at+8*10) != t.steps.from || t.word(at+8*13) != t.index || t.gofunc < 1 || t.gofunc > len(t.memory) {
		return ErrLayout
	}
	return nil
}

func (t *tables) word(at int) int {
	if at < 0 || at+8 > len(t.memory) {
		t.odd = true
		return 0
	}
	w := binary.LittleEndian.Uint64(t.memory[at:])
	if w > 1<<31 {
		t.odd = true
		return 0
	}
	return int(w)
}

func (t *tables) number(at int) uint32 {
	if at < 0 || at+4 > len(t.memory) {
		t.odd = true
		return 0
	}
	return binary.LittleEndian.Uint32(t.memory[at:])
}

func (t *tables) put(at int, n uint32) {
	if at < 0 || at+4 > len(t.memory) {
		t.odd = true
		return
	}
	binary.LittleEndian.PutUint32(t.memory[at:], n)
}

// function is the description of one function.
type function struct {
	at            int
	steps, datas  int // how many tables there are of each sort
	firstD, first int // where the lists of them begin
}

func (t *tables) function(i int) function {
	f := function{at: t.index + int(t.number(t.index+8*i+4))}
	f.steps = int(t.number(f.at + 28))
	if f.at < 0 || f.at+44 > len(t.memory) || f.steps > 64 {
		t.odd = true
		return function{}
	}
	f.datas = int(t.memory[f.at+43])
	f.first, f.firstD = f.at+44, f.at+44+4*f.steps
	return f
}

func (t *tables) thin() error {
	trees, others := t.inlined()
	used := make([]bool, t.steps.to-t.steps.from)
	names := t.keptNames()
	for i := range t.functions {
		f := t.function(i)
		if t.odd {
			return ErrLayout
		}
		t.walk(t.number(f.at+16), used) // frame sizes
		for j := range f.steps {
			if j != inlineTree {
				t.walk(t.number(f.first+4*j), used)
			}
		}
	}
	for _, tree := range trees {
		for _, o := range others {
			t.odd = t.odd || o >= tree.from && o < tree.to
		}
	}
	if t.odd || len(used) == 0 {
		return ErrLayout
	}
	t.clear(trees, used, names)
	if t.odd {
		return ErrLayout
	}
	return nil
}

// clear takes out what is not needed, after everything was checked.
func (t *tables) clear(trees []span, used []bool, names []uint32) {
	for i := range t.functions {
		f := t.function(i)
		t.put(f.at+4, names[i])
		for _, field := range [...]int{20, 24, 32, 36} { // files, lines, the unit's files, the first line
			t.put(f.at+field, 0)
		}
		if f.steps > inlineTree {
			t.put(f.first+4*inlineTree, 0)
		}
		if f.datas > inlineData {
			t.put(f.firstD+4*inlineData, noData)
		}
	}
	for _, s := range append(trees, t.files) {
		clear(t.memory[s.from:s.to])
	}
	for i, keep := range used {
		if !keep && i > 0 {
			t.memory[t.steps.from+i] = 0
		}
	}
}

// The runtime itself looks at two names to find the arguments of functions
// that reflection makes, and at the beginning "runtime." to tell its own
// goroutines; every other name is for people.
var needed = []string{"", "runtime.", "reflect.makeFuncStub", "reflect.methodValueCall"}

// keptNames returns the new name of every function, and writes the list of
// those that stay.
func (t *tables) keptNames() []uint32 {
	if t.odd {
		return nil
	}
	list := []byte{}
	at := map[string]uint32{}
	for _, n := range needed {
		at[n] = uint32(len(list))
		list = append(append(list, n...), 0)
	}
	kept := make([]uint32, t.functions)
	for i := range kept {
		f := t.function(i)
		name := t.name(t.names.from + int(t.number(f.at+4)))
		if bytes.HasPrefix([]byte(name), []byte("runtime.")) {
			name = "runtime."
		}
		kept[i] = at[name] // 0, the empty name, for all others
	}
	if t.odd || t.names.to-t.names.from < len(list) {
		t.odd = true
		return nil
	}
	clear(t.memory[t.names.from:t.names.to])
	copy(t.memory[t.names.from:], list)
	return kept
}

func (t *tables) name(at int) string {
	if at < t.names.from || at >= t.names.to {
		t.odd = true
		return ""
	}
	end := bytes.IndexByte(t.memory[at:t.names.to], 0)
	if end < 0 {
		t.odd = true
		return ""
	}
	return string(t.memory[at : at+end])
}
