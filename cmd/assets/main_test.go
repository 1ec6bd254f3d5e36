package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// made builds everything but the core into a folder of its own.
func made(t *testing.T) builder {
	t.Helper()
	b := builder{root: "../..", dist: t.TempDir()}
	if _, err := os.Stat(b.source("node_modules/idb")); err != nil {
		t.Fatalf("the browser libraries are not there, run npm ci: %v", err)
	}
	if err := b.write("field/phone.wasm", []byte("stands for the core")); err != nil {
		t.Fatal(err)
	}
	for _, step := range []func() error{b.field, b.desk, b.boundaries, b.worker} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

func read(t *testing.T, b builder, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(b.dist, name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

var namedFile = regexp.MustCompile(`"?([\w.-]+)"?:"([0-9a-f]{64})"`)

func TestTheWorkerNamesEveryFileByItsDigest(t *testing.T) {
	b := made(t)
	named := map[string]string{}
	for _, m := range namedFile.FindAllStringSubmatch(string(read(t, b, "field/sw.js")), -1) {
		named[m[1]] = m[2]
	}
	found, err := os.ReadDir(filepath.Join(b.dist, "field"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		if f.Name() == "sw.js" {
			continue
		}
		if want := digest(read(t, b, "field/"+f.Name())); named[f.Name()] != want {
			t.Errorf("%s: the worker names digest %q, want %q", f.Name(), named[f.Name()], want)
		}
	}
	if len(named) != len(found)-1 {
		t.Errorf("the worker names %d files, want %d", len(named), len(found)-1)
	}
}

func TestAChangedFileChangesTheWorker(t *testing.T) {
	b := made(t)
	before := read(t, b, "field/sw.js")
	if err := b.write("field/phone.wasm", []byte("another core")); err != nil {
		t.Fatal(err)
	}
	if err := b.worker(); err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(before, read(t, b, "field/sw.js")) {
		t.Error("a phone would not notice the new version: the worker is the same")
	}
}

func TestTheSameSourcesGiveTheSameBytes(t *testing.T) {
	one, two := made(t), made(t)
	for _, name := range []string{"field/app.js", "field/app.css", "field/sw.js", "field/icon-512.png", "counties.bin", "home.bin"} {
		if !bytes.Equal(read(t, one, name), read(t, two, name)) {
			t.Errorf("%s differs between two builds", name)
		}
	}
}

func TestEveryIconOfTheManifestHasItsSize(t *testing.T) {
	b := made(t)
	var m struct {
		Icons []struct{ Src, Sizes string }
	}
	if err := json.Unmarshal(read(t, b, "field/manifest.webmanifest"), &m); err != nil {
		t.Fatal(err)
	}
	for _, i := range m.Icons {
		img, err := png.DecodeConfig(bytes.NewReader(read(t, b, "field/"+i.Src)))
		if err != nil {
			t.Errorf("%s: %v", i.Src, err)
			continue
		}
		if edge, _, _ := strings.Cut(i.Sizes, "x"); edge == "" || edge != itoa(img.Width) || img.Width != img.Height {
			t.Errorf("%s: got %d by %d pixels, want %s", i.Src, img.Width, img.Height, i.Sizes)
		}
	}
	if len(m.Icons) < 3 {
		t.Errorf("got %d icons, want at least 3", len(m.Icons))
	}
}

func itoa(n int) string {
	text, _ := json.Marshal(n)
	return string(text)
}

func TestTheCompressedCopyIsTheFile(t *testing.T) {
	want := bytes.Repeat([]byte("a find by the wayside\n"), 1000)
	small, err := squeeze(want)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(small))
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(z)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("got %d bytes and %v, want the %d bytes that went in", len(got), err, len(want))
	}
	if again, _ := squeeze(want); !bytes.Equal(again, small) {
		t.Error("the same bytes were compressed in two ways")
	}
}

// The page's rules of content: nothing inline, nothing from elsewhere.
func TestThePageAsksForNothingFromElsewhere(t *testing.T) {
	b := made(t)
	page := string(read(t, b, "field/index.html"))
	for _, bad := range []string{"http://", "https://", " style=", "<style", "onclick="} {
		if strings.Contains(page, bad) {
			t.Errorf("the page contains %q", bad)
		}
	}
	if n := strings.Count(page, "<script"); n != strings.Count(page, "<script src=") || n == 0 {
		t.Errorf("got %d scripts, want all of them by address", n)
	}
}
