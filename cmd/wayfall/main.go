// Command wayfall is the one program: it serves a museum's store to phones,
// desks and programs, invites people, and shows the demo. It promises to end
// clean on an interrupt, and to print nothing but what was asked for.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "wayfall:", err)
		os.Exit(1)
	}
}
