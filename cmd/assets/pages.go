package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/evanw/esbuild/pkg/api"

	"wayfall/cmd/assets/lean"
)

const app = "server/web/app/"

// field makes the field page, all but its worker.
func (b builder) field() error {
	if err := b.bundle(app+"main.ts", "field/app.js", nil); err != nil {
		return err
	}
	for _, name := range []string{"index.html", "manifest.webmanifest"} {
		if err := b.copy(app+name, "field/"+name); err != nil {
			return err
		}
	}
	if err := b.bundle(app+"app.css", "field/app.css", nil); err != nil {
		return err
	}
	if err := b.goSupport(); err != nil {
		return err
	}
	return b.icons()
}

// core takes out of the phone's program what only a stack trace reads: a fifth
// of the first download. A program of another compiler's layout stays whole.
func (b builder) core() error {
	path := filepath.Join(b.dist, "field", "phone.wasm")
	program, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	small, err := lean.Thin(program)
	if errors.Is(err, lean.ErrLayout) {
		fmt.Fprintf(os.Stderr, "assets: the phone's program stays larger than it need be: %v\n", err)
		return nil
	}
	if err != nil || bytes.Equal(small, program) {
		return err
	}
	return b.write("field/phone.wasm", small)
}

// goSupport copies the script that starts a Go program in a browser. It must
// be the one of the compiler that made phone.wasm.
func (b builder) goSupport() error {
	root, err := goRoot()
	if err != nil {
		return err
	}
	data, err := os.ReadFile(filepath.Join(root, "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return err
	}
	small := api.Transform(string(data), api.TransformOptions{
		MinifyWhitespace: true, MinifySyntax: true, MinifyIdentifiers: true, Target: api.ES2022, LegalComments: api.LegalCommentsInline,
	})
	if err := failure(small.Errors); err != nil {
		return err
	}
	return b.write("field/wasm_exec.js", small.Code)
}

// goRoot asks the Go tool where it lives.
func goRoot() (string, error) {
	out, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return "", fmt.Errorf("go env: %w", err)
	}
	return strings.TrimSpace(string(out)), nil
}

// desk makes the desk's map, if the desk has one.
func (b builder) desk() error {
	entry := "server/web/desk/map.ts"
	if _, err := os.Stat(b.source(entry)); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err := b.bundle(entry, "desk/map.js", nil); err != nil {
		return err
	}
	return b.bundle("node_modules/leaflet/dist/leaflet.css", "desk/leaflet.css", nil)
}

// bundle writes one entry with everything it imports, small enough for a slow
// network.
func (b builder) bundle(entry, to string, define map[string]string) error {
	made := api.Build(api.BuildOptions{
		EntryPoints: []string{b.source(entry)}, Bundle: true, Outfile: filepath.Base(to),
		Target: api.ES2022, Format: api.FormatIIFE, Platform: api.PlatformBrowser, Charset: api.CharsetUTF8,
		MinifyWhitespace: true, MinifySyntax: true, MinifyIdentifiers: true,
		LegalComments: api.LegalCommentsNone, Define: define, LogLevel: api.LogLevelSilent,
		Loader: map[string]api.Loader{".png": api.LoaderDataURL},
	})
	if err := failure(made.Errors); err != nil {
		return err
	}
	return b.write(to, made.OutputFiles[0].Contents)
}

func failure(found []api.Message) error {
	if len(found) == 0 {
		return nil
	}
	return errors.New(strings.Join(api.FormatMessages(found, api.FormatMessagesOptions{}), ""))
}

// worker makes the service worker last, with the digest of every other file of
// the field page. Its version is the digest of that list.
func (b builder) worker() error {
	list := map[string]string{}
	found, err := os.ReadDir(filepath.Join(b.dist, "field"))
	if err != nil {
		return err
	}
	for _, f := range found {
		name := f.Name()
		if name == "sw.js" || slices.Contains([]string{".gz", ".br", ".new"}, filepath.Ext(name)) {
			continue
		}
		data, err := os.ReadFile(filepath.Join(b.dist, "field", name))
		if err != nil {
			return err
		}
		list[name] = digest(data)
	}
	if list["phone.wasm"] == "" {
		return errors.New("field/phone.wasm is not there; compile ./cmd/phone for js/wasm first")
	}
	files, err := json.Marshal(list)
	if err != nil {
		return err
	}
	return b.bundle(app+"sw/sw.ts", "field/sw.js", map[string]string{
		"FILES": string(files), "VERSION": fmt.Sprintf("%q", digest(files)[:16]),
	})
}
