// Package bothbodies proves that the rules have one brain and two bodies: the
// phone's program, run as WebAssembly, and the same packages run natively
// answer every question with the same bytes. It holds tests only.
package bothbodies

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"wayfall/cmd/assets/lean"
)

// call is one question to the phone's program.
type call struct {
	Name string `json:"f"`
	Args []any  `json:"a"`
}

// wire is an argument of bytes.
type wire struct {
	Bytes []byte `json:"bytes"`
}

const top = "../../.."

// phone runs calls, in their order, in one fresh start of the phone's program
// and returns the texts it answered with.
func phone(t *testing.T, calls []call) []string {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Fatal("node is missing: the Debian package nodejs runs the phone's program here")
	}
	var in, out, told bytes.Buffer
	enc := json.NewEncoder(&in)
	for _, c := range calls {
		if err := enc.Encode(c); err != nil {
			t.Fatal(err)
		}
	}
	run := exec.Command(node, "testdata/body.js", filepath.Join(goroot(t), "lib", "wasm", "wasm_exec.js"), program(t))
	run.Stdin, run.Stdout, run.Stderr = &in, &out, &told
	if err := run.Run(); err != nil {
		t.Fatalf("the phone's program: %v\n%s", err, told.String())
	}
	var texts []string
	for dec := json.NewDecoder(&out); dec.More(); {
		var text string
		if err := dec.Decode(&text); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	if len(texts) != len(calls) {
		t.Fatalf("got %d answers, want %d", len(texts), len(calls))
	}
	return texts
}

var built string

// program compiles the phone's program once. Its sources are read here too, so
// that a result is never taken from before a change of theirs: what a compiler
// reads is unknown to the cache of test results.
func program(t *testing.T) string {
	t.Helper()
	if built != "" {
		return built
	}
	sources, err := filepath.Glob("../*.go")
	if err != nil || len(sources) == 0 {
		t.Fatalf("got %d sources of the phone's program, %v", len(sources), err)
	}
	for _, s := range sources {
		if _, err := os.ReadFile(s); err != nil {
			t.Fatal(err)
		}
	}
	dir, err := os.MkdirTemp("", "phone")
	if err != nil {
		t.Fatal(err)
	}
	made = dir
	out := filepath.Join(dir, "phone.wasm")
	build := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", out, "..")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if told, err := build.CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, told)
	}
	built = out
	thin(t, out)
	return out
}

// thin makes the program what a phone gets: proving another would not do.
func thin(t *testing.T, path string) {
	t.Helper()
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	small, err := lean.Thin(whole)
	if err != nil {
		t.Fatalf("the program as compiled: %v", err)
	}
	if err := os.WriteFile(path, small, 0o600); err != nil {
		t.Fatal(err)
	}
}

var made string // where the program was built

func TestMain(m *testing.M) {
	code := m.Run()
	if made != "" {
		_ = os.RemoveAll(made)
	}
	os.Exit(code)
}

func goroot(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatalf("go env GOROOT, for %s: %v", runtime.Version(), err)
	}
	return string(bytes.TrimSpace(out))
}

// spell writes a value as the phone's program writes its answers.
func spell(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// same compares one answer of both bodies, and says where they part.
func same(t *testing.T, what, phone, native string) bool {
	t.Helper()
	if phone == native {
		return true
	}
	at := 0
	for at < min(len(phone), len(native)) && phone[at] == native[at] {
		at++
	}
	cut := func(s string) string { return s[max(0, min(at-60, len(s))):min(at+120, len(s))] }
	t.Errorf("%s: the bodies part at byte %d\nphone:  …%s\nnative: …%s", what, at, cut(phone), cut(native))
	return false
}
