package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// event is one line of `go test -json`.
type event struct {
	Time       time.Time
	Action     string
	Package    string
	ImportPath string
	Test       string
	Output     string
	Elapsed    float64
}

type counts struct{ passed, failed, skipped int }

// tally reads the stream of `go test -json`, prints what failed, every line
// that a test marked with "SHOW", and the numbers. It fails if a test failed,
// was skipped, or none ran: nothing is skipped in silence here.
func tally(in io.Reader, out io.Writer) error {
	var n counts
	kept := map[string][]string{}
	var failedPackages []string
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, 0, 1<<20), 16<<20)
	for lines.Scan() {
		var e event
		if json.Unmarshal(lines.Bytes(), &e) != nil {
			fmt.Fprintln(out, lines.Text())
			continue
		}
		key := e.Package + e.ImportPath + "\x00" + e.Test
		switch e.Action {
		case "output", "build-output":
			kept[key] = append(kept[key], e.Output)
			if _, shown, ok := strings.Cut(e.Output, "SHOW "); ok {
				fmt.Fprint(out, "    ", shown)
			}
		case "pass", "fail", "skip":
			n.note(e, kept, key, out)
			if e.Action == "fail" && e.Test == "" {
				failedPackages = append(failedPackages, e.Package)
			}
		case "build-fail":
			fmt.Fprint(out, strings.Join(kept[key], ""))
			failedPackages = append(failedPackages, e.ImportPath)
		}
	}
	if err := lines.Err(); err != nil {
		return err
	}
	return n.close(out, failedPackages)
}

func (n *counts) note(e event, kept map[string][]string, key string, out io.Writer) {
	defer delete(kept, key)
	if e.Test == "" {
		if e.Action == "fail" {
			fmt.Fprint(out, strings.Join(kept[key], ""))
		}
		fmt.Fprintf(out, "%-5s %7.1f s  %s\n", e.Action, e.Elapsed, e.Package)
		return
	}
	switch e.Action {
	case "pass":
		n.passed++
		return
	case "fail":
		n.failed++
	case "skip":
		n.skipped++
	}
	fmt.Fprintf(out, "%s %s %s\n%s", strings.ToUpper(e.Action), e.Package, e.Test, strings.Join(kept[key], ""))
}

func (n *counts) close(out io.Writer, failedPackages []string) error {
	slices.Sort(failedPackages)
	failedPackages = slices.Compact(failedPackages)
	failed := n.failed
	if failed == 0 {
		failed = len(failedPackages)
	}
	var err error
	switch {
	case failed > 0:
		err = fmt.Errorf("%d tests failed; packages: %s", failed, strings.Join(failedPackages, " "))
	case n.skipped > 0:
		err = fmt.Errorf("%d tests were skipped; a test here runs or fails", n.skipped)
	case n.passed == 0:
		err = fmt.Errorf("no test ran")
	}
	if n.skipped > 0 {
		fmt.Fprintf(out, "%d passed, %d failed, %d skipped\n", n.passed, failed, n.skipped)
		return err
	}
	fmt.Fprintf(out, "%d passed, %d failed\n", n.passed, failed)
	return err
}
