package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// floors says what each folder may import of ours. The longest match decides,
// and an entry covers the folders below it. A folder may always import itself.
var floors = map[string][]string{
	"geo":            {"geo"},
	"permits":        {"permits"},
	"permits/screen": {"permits", "geo", "sync/record"},
	"sync":           {"sync"},
	"sync/record":    {},
	"sync/clock":     {},

	"server":           {"server", "sync", "permits", "geo", "fixtures"},
	"server/fault":     {},
	"server/store":     {"server/fault", "sync", "permits"},
	"server/people":    {"server/people", "server/fault", "sync", "permits", "geo"},
	"server/intake":    {"server/fault", "sync", "permits", "geo"},
	"server/catalogue": {"server/fault", "sync", "permits", "geo"},
	"server/reports":   {"server/reports", "server/fault", "server/catalogue", "sync", "permits", "geo"},
	"server/api":       {"server/intake", "server/catalogue", "server/reports", "server/people", "server/fault", "sync", "permits", "geo"},
	"server/web":       {"server/intake", "server/catalogue", "server/reports", "server/people", "server/fault", "sync", "permits", "geo"},

	"cmd":       {"cmd", "server", "sync", "permits", "geo", "fixtures"},
	"cmd/phone": {"cmd/phone", "sync", "permits", "geo"},
	"fixtures":  {"fixtures"},
}

// words import nothing of ours, not even their own family.
var words = []string{"geo", "permits", "sync/record", "sync/clock"}

// pure are the folders that do no input or output and never read a clock.
var pure = []string{"geo", "permits", "sync"}

var impure = []string{
	"os", "net", "net/http", "database/sql", "io/fs", "log", "log/slog",
	"math/rand", "math/rand/v2", "syscall", "os/exec", "crypto/rand",
}

var clockReads = []string{"Now", "Since", "Until", "Local", "After", "Tick", "Sleep", "NewTimer", "NewTicker"}

// fault is one line of one file that breaks a floor.
type fault struct {
	where, what string
}

// faults reads every Go file under root that is not a test and returns what
// breaks a floor, and how many files it read.
func faults(root string) (found []fault, read int, err error) {
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() {
			if name == "node_modules" || name == "testdata" || (strings.HasPrefix(name, ".") && path != root) {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		rel, _ := filepath.Rel(root, path)
		more, err := fileFaults(path, filepath.ToSlash(rel))
		found, read = append(found, more...), read+1
		return err
	})
	return found, read, err
}

func fileFaults(path, rel string) ([]fault, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	folder := filepath.ToSlash(filepath.Dir(rel))
	allowed, known := mayImport(folder)
	if !known {
		return []fault{{rel, "the folder " + folder + " stands on no floor"}}, nil
	}
	var found []fault
	note := func(pos token.Pos, format string, args ...any) {
		found = append(found, fault{fmt.Sprintf("%s:%d", rel, set.Position(pos).Line), fmt.Sprintf(format, args...)})
	}
	clean := isPure(folder)
	for _, imp := range file.Imports {
		name, _ := strconv.Unquote(imp.Path.Value)
		ours, isOurs := strings.CutPrefix(name, "wayfall/")
		if isOurs && ours != folder && !covered(ours, allowed) {
			note(imp.Pos(), "%s may not import %s", folder, ours)
		}
		if clean && slices.Contains(impure, name) {
			note(imp.Pos(), "%s is a pure floor and may not import %s", folder, name)
		}
	}
	if clean {
		ast.Inspect(file, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "time" && slices.Contains(clockReads, sel.Sel.Name) {
					note(sel.Pos(), "%s is a pure floor and may not call time.%s", folder, sel.Sel.Name)
				}
			}
			return true
		})
	}
	return found, nil
}

func mayImport(folder string) (allowed []string, known bool) {
	if slices.Contains(words, folder) {
		return nil, true
	}
	for f := folder; ; f = f[:strings.LastIndex(f, "/")] {
		if list, ok := floors[f]; ok {
			return list, true
		}
		if !strings.Contains(f, "/") {
			return nil, false
		}
	}
}

func covered(folder string, list []string) bool {
	return slices.ContainsFunc(list, func(a string) bool {
		return folder == a || strings.HasPrefix(folder, a+"/")
	})
}

// isPure leaves out conformance suites, which need package testing and are
// linked by tests only.
func isPure(folder string) bool {
	return covered(folder, pure) && !strings.HasSuffix(folder, "test")
}

func printFaults(w io.Writer, root string) error {
	found, read, err := faults(root)
	if err != nil {
		return err
	}
	for _, f := range found {
		fmt.Fprintf(w, "%s: %s\n", f.where, f.what)
	}
	if read == 0 || len(found) > 0 {
		return fmt.Errorf("%d files read, %d break a floor", read, len(found))
	}
	fmt.Fprintf(w, "floors: %d files read, none breaks a floor\n", read)
	return nil
}
