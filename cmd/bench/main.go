// Command bench measures what there are targets for and prints one table:
// what | measured | target | ratio. Ratios are made within one run on one
// machine; where a physical limit or a peer is named, it was measured in the
// same run. A second table shows how times grow with what is held against the
// straight line through the step before. It judges nothing: a missed target is printed, not hidden, and no
// test rests on a time.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	curve := flag.String("curve", "", "draw how times grow into this SVG `file`")
	flag.Parse()
	if err := run(ctx, os.Stdout, *curve); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}
