// Command assets makes the files that the program serves to browsers: the
// field page with its worker and icons, the desk's map, the boundaries, the
// towns and the credits. Run it at the top of the tree, after npm ci and after the phone's
// program has been compiled:
//
//	go run ./cmd/assets
//
// It promises that the same sources give the same bytes, and that the list of
// files in the worker names each by the digest of what was written. It fetches
// nothing and installs nothing.
package main

import (
	"fmt"
	"os"
)

func main() {
	if err := run("."); err != nil {
		fmt.Fprintln(os.Stderr, "assets:", err)
		os.Exit(1)
	}
}

// run makes everything. The worker comes last, because it names the others by
// their digests.
func run(root string) error {
	b := builder{root: root, dist: root + "/server/web/dist"}
	steps := []struct {
		name string
		make func() error
	}{
		{"core", b.core},
		{"field page", b.field},
		{"desk", b.desk},
		{"boundaries", b.boundaries},
		{"towns", b.towns},
		{"credits", b.credits},
		{"worker", b.worker},
		{"compressed copies", b.compress},
	}
	for _, s := range steps {
		if err := s.make(); err != nil {
			return fmt.Errorf("%s: %w", s.name, err)
		}
	}
	return nil
}
