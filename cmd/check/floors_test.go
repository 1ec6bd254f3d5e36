package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestNoFileBreaksAFloor(t *testing.T) {
	found, read, err := faults("../..")
	if err != nil {
		t.Fatal(err)
	}
	if read < 20 {
		t.Errorf("read %d files, want the whole tree; a check that looks at nothing proves nothing", read)
	}
	for _, f := range found {
		t.Errorf("%s: %s", f.where, f.what)
	}
}

func TestEveryFolderThatIsNamedIsThere(t *testing.T) {
	for folder := range floors {
		if info, err := os.Stat(filepath.Join("../..", folder)); err != nil || !info.IsDir() {
			t.Errorf("%s stands in the table of floors but not in the tree", folder)
		}
	}
}

var planted = []struct {
	name, path, source, want string
}{
	{"geo reaches into permits", "geo/region/x.go", "package region\nimport _ \"wayfall/permits\"\n", "may not import permits"},
	{"a word package imports its family", "geo/x.go", "package geo\nimport _ \"wayfall/geo/geodesic\"\n", "may not import geo/geodesic"},
	{"a pure floor opens a file", "sync/merge/x.go", "package merge\nimport _ \"os\"\n", "may not import os"},
	{"a pure floor reads the clock", "permits/rules/x.go", "package rules\nimport \"time\"\nvar t = time.Now()\n", "may not call time.Now"},
	{"a deciding floor names the store", "server/intake/x.go", "package intake\nimport _ \"wayfall/server/store\"\n", "may not import server/store"},
	{"the phone links the server", "cmd/phone/x.go", "package main\nimport _ \"wayfall/server/fault\"\n", "may not import server/fault"},
	{"fixtures know our code", "fixtures/x.go", "package fixtures\nimport _ \"wayfall/sync/op\"\n", "may not import sync/op"},
	{"a folder nobody placed", "attic/x.go", "package attic\n", "stands on no floor"},
}

func TestPlantedFaultsAreFound(t *testing.T) {
	for _, p := range planted {
		t.Run(p.name, func(t *testing.T) {
			root := t.TempDir()
			file := filepath.Join(root, p.path)
			if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(p.source), 0o644); err != nil {
				t.Fatal(err)
			}
			found, _, err := faults(root)
			if err != nil {
				t.Fatal(err)
			}
			if len(found) != 1 || !strings.Contains(found[0].what, p.want) {
				t.Errorf("got %v, want one fault that says %q", found, p.want)
			}
		})
	}
}
