// Command bench measures what there are targets for and prints one table:
// what | measured | target | ratio. Ratios are made within one run on one
// machine; where a physical limit or a peer is named, it was measured in the
// same run. It judges nothing: a missed target is printed, not hidden, and no
// test rests on a time.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}
