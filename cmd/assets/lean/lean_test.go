package lean

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

const hello = `package main

import ("fmt"; "runtime"; "sort")

type pair struct{ a, b string }

func main() {
	defer func() { fmt.Println("recovered:", recover()) }()
	var all []*pair
	for i := range 200_000 {
		all = append(all, &pair{fmt.Sprint(i), fmt.Sprint(-i)})
		if i%50_000 == 0 { runtime.GC() }
	}
	sort.Slice(all, func(i, j int) bool { return all[i].a < all[j].a })
	fmt.Println(all[0].a, all[199_999].b, len(all))
	fmt.Println(all[len(all)].a)
}
`

// compiled returns a program made from hello.
func compiled(t *testing.T) []byte {
	t.Helper()
	dir := t.TempDir()
	source, out := filepath.Join(dir, "hello.go"), filepath.Join(dir, "hello.wasm")
	if err := os.WriteFile(source, []byte(hello), 0o600); err != nil {
		t.Fatal(err)
	}
	build := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", out, source)
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if told, err := build.CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, told)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// said runs a program and returns what it printed.
func said(t *testing.T, program []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "program.wasm")
	if err := os.WriteFile(path, program, 0o600); err != nil {
		t.Fatal(err)
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	script := filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec_node.js")
	out, err := exec.Command("node", script, path).CombinedOutput()
	if err != nil {
		t.Fatalf("node (Debian package nodejs): %v\n%s", err, out)
	}
	return string(out)
}

func TestALeanProgramDoesTheSame(t *testing.T) {
	whole := compiled(t)
	small, err := Thin(whole)
	if err != nil {
		t.Fatal(err)
	}
	want := said(t, whole)
	if got := said(t, small); got != want || !strings.Contains(want, "recovered: runtime error: index out of range") {
		t.Errorf("got %q, want %q", got, want)
	}
	again, err := Thin(small)
	if err != nil || !bytes.Equal(again, small) {
		t.Errorf("thinning twice: got %d bytes, %v, want the same %d bytes", len(again), err, len(small))
	}
	for _, name := range []string{"sort.Slice", "main.main", "fmt.Sprint"} {
		if !bytes.Contains(whole, []byte(name)) || bytes.Contains(small, []byte(name)) {
			t.Errorf("the name %s: in the whole program %v, in the lean one %v; want only the first",
				name, bytes.Contains(whole, []byte(name)), bytes.Contains(small, []byte(name)))
		}
	}
}

func TestWhatIsLaidOutOtherwiseIsRefused(t *testing.T) {
	whole := compiled(t)
	table := bytes.Index(whole, []byte(magic))
	if table < 0 {
		t.Fatal("no table of functions in what the compiler wrote")
	}
	other := bytes.Clone(whole)
	other[table] = 0xf0 // the table of an older release
	for name, b := range map[string][]byte{
		"nothing": nil, "a text": []byte("not a program"), "half a program": whole[:len(whole)/2],
		"no data": whole[:8], "another table": other,
	} {
		if _, err := Thin(b); !errors.Is(err, ErrLayout) {
			t.Errorf("%s: got %v, want %v", name, err, ErrLayout)
		}
	}
}

func FuzzThin(f *testing.F) {
	f.Add([]byte("\x00asm\x01\x00\x00\x00\x0b\x09\x01\x00\x41\x08\x0b\x03abc"))
	f.Add([]byte("\x00asm\x01\x00\x00\x00\x0b\x01\x00"))
	f.Add([]byte("\x00asm\x01\x00\x00\x00\x0b\x53\x01\x00\x41\x00\x0b\x4d" + magic + strings.Repeat("\x01", 69)))
	f.Fuzz(func(t *testing.T, b []byte) {
		small, err := Thin(b)
		if err != nil && !errors.Is(err, ErrLayout) {
			t.Fatalf("got %v, want %v or none", err, ErrLayout)
		}
		if m, err := readModule(b); err == nil && small == nil {
			back, err := readModule(m.write())
			if err != nil || !bytes.Equal(bytes.TrimRight(back.memory, "\x00"), bytes.TrimRight(m.memory, "\x00")) {
				t.Fatalf("the memory did not survive: %v", err)
			}
		}
	})
}
