// Command check is the builder's own gate. It reads the sources and says which
// file breaks a floor (floors), and it turns the stream of `go test -json`
// into the failures and one last line of numbers (tally). It promises to fail
// when it has looked at nothing, and it never changes a file.
package main

import (
	"fmt"
	"os"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "check:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("say floors or tally")
	}
	switch args[0] {
	case "floors":
		return printFaults(os.Stdout, ".")
	case "tally":
		return tally(os.Stdin, os.Stdout)
	}
	return fmt.Errorf("%q is not a check; say floors or tally", args[0])
}
