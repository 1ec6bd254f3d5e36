package main

import (
	"strings"
	"testing"
)

var tallies = []struct {
	name, in, last string
	fails          bool
}{
	{"two pass", `{"Action":"pass","Package":"p","Test":"A"}
{"Action":"pass","Package":"p","Test":"B"}
{"Action":"pass","Package":"p"}`, "2 passed, 0 failed", false},
	{"one fails", `{"Action":"pass","Package":"p","Test":"A"}
{"Action":"output","Package":"p","Test":"B","Output":"got 1, want 2\n"}
{"Action":"fail","Package":"p","Test":"B"}
{"Action":"fail","Package":"p"}`, "1 passed, 1 failed", true},
	{"a package that does not build is a failure", `{"ImportPath":"p","Action":"build-output","Output":"x.go:1: no\n"}
{"ImportPath":"p","Action":"build-fail"}
{"Action":"fail","Package":"p","Elapsed":0}`, "0 passed, 1 failed", true},
	{"nothing ran", ``, "0 passed, 0 failed", true},
	{"a skipped test is said and fails", `{"Action":"pass","Package":"p","Test":"A"}
{"Action":"skip","Package":"p","Test":"B"}`, "1 passed, 0 failed, 1 skipped", true},
}

func TestTheLastLineSaysHowManyPassed(t *testing.T) {
	for _, c := range tallies {
		t.Run(c.name, func(t *testing.T) {
			var out strings.Builder
			err := tally(strings.NewReader(c.in), &out)
			lines := strings.Split(strings.TrimSpace(out.String()), "\n")
			if got := lines[len(lines)-1]; got != c.last {
				t.Errorf("got %q, want %q", got, c.last)
			}
			if (err != nil) != c.fails {
				t.Errorf("got error %v, want failure %v", err, c.fails)
			}
		})
	}
}
