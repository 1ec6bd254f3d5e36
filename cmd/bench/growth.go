package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"text/tabwriter"
)

// point is a time at a size.
type point struct{ size, ms float64 }

// growing is how one time grows with one size.
type growing struct {
	what, of string
	points   []point
}

// linear compares a step with a straight line through nothing: 1 is linear,
// less grows slower.
func linear(a, b point) float64 { return b.ms / a.ms / (b.size / a.size) }

// growth prints how a verdict grows with rules and papers and the year with
// records, and draws it if a file is named.
func growth(ctx context.Context, out io.Writer, curve string) error {
	all, err := verdictsGrowing(ctx)
	if err != nil {
		return err
	}
	year, err := yearGrowing(ctx)
	if err != nil {
		return err
	}
	all = append(all, year)
	fmt.Fprintf(out, "\nload %s\n", load())
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "growth of\tat\tmeasured\tstep to linear")
	for _, g := range all {
		for i, p := range g.points {
			step := "-"
			if i > 0 {
				step = fmt.Sprintf("%.2f", linear(g.points[i-1], p))
			}
			fmt.Fprintf(w, "%s\t%.0f %s\t%s ms\t%s\n", g.what, p.size, g.of, number(p.ms), step)
		}
	}
	if err := w.Flush(); err != nil || curve == "" {
		return err
	}
	return os.WriteFile(curve, draw(all), 0o600)
}

// verdictsGrowing runs the benchmarks of growth. The papers that cover nothing
// stand before the one that does, which is the slower order.
func verdictsGrowing(ctx context.Context) ([]growing, error) {
	fmt.Fprintln(os.Stderr, "growth of a verdict …")
	cmd := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-bench", "^BenchmarkGrowthWith(Rules|Authorities)$/^(shipped|[0-9]+|last)$", "-benchtime", "500ms", "./permits/screen")
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%w\n%s", err, text)
	}
	got := figures(text)
	byRules, byPapers := growing{what: "verdict", of: "rules asked"}, growing{what: "verdict", of: "permits"}
	for _, n := range []string{"shipped", "100", "200", "400", "800"} {
		name := "GrowthWithRules/" + n
		byRules.points = append(byRules.points, point{got[name+" rules-asked"], got[name+" ns/op"] / 1e6})
	}
	for _, n := range []float64{1, 10, 100, 1000} {
		byPapers.points = append(byPapers.points, point{n, got[fmt.Sprintf("GrowthWithAuthorities/last/%.0f ns/op", n)] / 1e6})
	}
	all := []growing{byRules, byPapers}
	for _, g := range all {
		for _, p := range g.points {
			if p.ms == 0 || p.size == 0 {
				return nil, fmt.Errorf("a benchmark of the growth with %s gave no figure", g.of)
			}
		}
	}
	return all, nil
}

func yearGrowing(ctx context.Context) (growing, error) {
	fmt.Fprintln(os.Stderr, "growth of a year …")
	g := growing{what: "book of one year", of: "records"}
	for _, n := range []int{1_000, 10_000, 100_000} {
		wall, _, err := bestYear(ctx, n, 1, 10)
		if err != nil {
			return g, err
		}
		g.points = append(g.points, point{float64(n), wall * 1000})
	}
	return g, nil
}
