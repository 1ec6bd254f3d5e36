package main

import (
	"context"
	"fmt"
	"io"
	"text/tabwriter"
)

// line is one row of the table. Ratio is measured to target, turned so that 1
// or more is on target.
type line struct {
	what     string
	measured string
	target   string
	ratio    float64 // 0: there is no target
	note     string
}

// atLeast makes a row for something of which more is better.
func atLeast(what string, got, target float64, unit, note string) line {
	return line{what, number(got) + " " + unit, "at least " + number(target) + " " + unit, got / target, note}
}

// atMost makes a row for something of which less is better.
func atMost(what string, got, target float64, unit, note string) line {
	r := 0.0
	if got > 0 {
		r = target / got
	}
	return line{what, number(got) + " " + unit, "at most " + number(target) + " " + unit, r, note}
}

// only makes a row that has no target yet.
func only(what string, got float64, unit, note string) line {
	return line{what, number(got) + " " + unit, "", 0, note}
}

func number(x float64) string {
	switch {
	case x >= 1000:
		return fmt.Sprintf("%.0f", x)
	case x >= 10:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.3g", x)
}

// run prints the table and that of growth, whose curves go to a file if one is
// named.
func run(ctx context.Context, out io.Writer, curve string) error {
	var all []line
	for _, measure := range []func(context.Context) ([]line, error){inPackages, onThePhone, yearOf, overTheWire, download} {
		lines, err := measure(ctx)
		if err != nil {
			return err
		}
		all = append(all, lines...)
	}
	if err := printLines(out, all); err != nil {
		return err
	}
	return growth(ctx, out, curve)
}

func printLines(out io.Writer, all []line) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "what\tmeasured\ttarget\tratio\tnote")
	for _, l := range all {
		ratio := "-"
		if l.ratio > 0 {
			ratio = fmt.Sprintf("%.2f", l.ratio)
			if l.ratio < 1 {
				ratio += " missed"
			}
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", l.what, l.measured, l.target, ratio, l.note)
	}
	return w.Flush()
}
