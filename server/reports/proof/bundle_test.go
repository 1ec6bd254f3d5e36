package proof

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// shelf holds n invented animals under the paper "p", one of which has a photo.
type shelf int

func (n shelf) Takes(context.Context, string) (out []catalogue.Take, at catalogue.Place, err error) {
	for i := range int(n) {
		t := catalogue.Take{Deed: "taken", Named: "p", Day: permits.NewDate(2025, 4, 1+i%30), Person: "ana"}
		t.ID, t.Tag, t.Name = fmt.Sprintf("A%d", i), fmt.Sprintf("ABC-%04d", i), "Common Loon <b>"
		out = append(out, t)
	}
	return out, catalogue.Place{LSN: 7, AtMS: 1769900000123, Head: "ab"}, nil
}

func (n shelf) Animal(_ context.Context, id string) (catalogue.AnimalSheet, error) {
	s := catalogue.AnimalSheet{Row: catalogue.Row{ID: id}, Reports: []catalogue.Find{{ID: "R" + id}}}
	if id == "A0" {
		s.Photos = []record.Photo{{SHA256: strings.Repeat("0", 64), Caption: "wing"}, {SHA256: strings.Repeat("1", 64)}}
	}
	return s, nil
}

func (n shelf) Find(context.Context, string) (catalogue.FindSheet, error) {
	return catalogue.FindSheet{}, nil
}

func (n shelf) Permit(_ context.Context, id string, _ permits.Date) (s reports.PermitSheet, err error) {
	s.ID, s.Name = id, "Invented paper"
	s.Versions = []reports.Version{{Authority: permits.Authority{ID: id, Version: 1}}}
	return s, nil
}

// unpack writes the bundle into a folder and returns its files.
func unpack(t *testing.T, n shelf) (folder string, files map[string][]byte) {
	t.Helper()
	photo := func(_ context.Context, sum string) ([]byte, string, error) {
		if sum[0] == '0' {
			return []byte("picture"), "image/png", nil
		}
		return nil, "", nil
	}
	b, err := Open(context.Background(), Needs{Book: n, Office: n, Institution: "Invented museum", Photo: photo}, Asked{Authority: "p", Day: permits.NewDate(2026, 1, 2)})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := b.Write(context.Background(), &out); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	folder, files = t.TempDir(), map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = data
		path := filepath.Join(folder, filepath.FromSlash(f.Name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return folder, files
}

var link = regexp.MustCompile(`(?:href|src)="([^"]*)"`)

func TestTheBundleStandsOnItsOwn(t *testing.T) {
	_, files := unpack(t, 5)
	front := string(files["index.html"])
	for i := range 5 {
		if got := strings.Count(front, fmt.Sprintf(">ABC-%04d</a>", i)); got != 1 {
			t.Errorf("the front lists animal %d %d times, want once", i, got)
		}
	}
	links := 0
	for name, data := range files {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		if text := string(data); strings.Contains(text, "<script") || strings.Contains(text, "Loon <b>") || strings.Contains(text, "@import") || strings.Contains(text, "url(") {
			t.Errorf("%s needs more than itself", name)
		}
		for _, m := range link.FindAllStringSubmatch(string(data), -1) {
			links++
			to := strings.SplitN(m[1], "#", 2)[0]
			if to == "" {
				continue
			}
			if _, here := files[filepath.ToSlash(filepath.Join(filepath.Dir(name), to))]; !here {
				t.Errorf("%s leads to %q, which is not in the bundle", name, m[1])
			}
		}
	}
	if links < 6 {
		t.Errorf("got %d links, want one for each animal and paper", links)
	}
	t.Logf("SHOW %d files, %d links, none leads outside", len(files), links)
}

func TestAChangedByteIsFound(t *testing.T) {
	folder, files := unpack(t, 3)
	named := map[string]bool{}
	for l := range strings.Lines(string(files["SHA256SUMS"])) {
		named[strings.TrimSuffix(l[66:], "\n")] = true
	}
	for name := range files {
		if name != "SHA256SUMS" && !named[name] {
			t.Errorf("SHA256SUMS does not name %s", name)
		}
	}
	if len(named) != len(files)-1 {
		t.Errorf("SHA256SUMS names %d files, want %d", len(named), len(files)-1)
	}
	check := func() (string, error) {
		c := exec.Command("sha256sum", "-c", "SHA256SUMS")
		c.Dir = folder
		out, err := c.CombinedOutput()
		return string(out), err
	}
	if out, err := check(); err != nil {
		t.Fatalf("an untouched bundle does not check: %v\n%s", err, out)
	}
	for name := range named {
		path := filepath.Join(folder, filepath.FromSlash(name))
		changed := bytes.Clone(files[name])
		changed[len(changed)/2] ^= 1
		if err := os.WriteFile(path, changed, 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := check(); err == nil || !strings.Contains(out, name+": FAILED") {
			t.Errorf("a changed byte of %s is not found: %s", name, out)
		}
		if err := os.WriteFile(path, files[name], 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("SHOW a changed byte was found in each of %d files", len(named))
}
