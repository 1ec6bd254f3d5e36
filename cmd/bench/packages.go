package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
)

// inPackages runs the benchmarks of the packages and reads their figures.
func inPackages(ctx context.Context) ([]line, error) {
	fmt.Fprintln(os.Stderr, "benchmarks of the packages …")
	cmd := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-bench", "^Benchmark(Check|Inverse|Ingest|Locate|Decode)$",
		"-benchtime", "2s", "./permits/screen", "./geo/geodesic", "./geo/region", "./server/store", "./sync/op")
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%w\n%s", err, text)
	}
	got := figures(text)
	for _, want := range []string{"Check verdicts/s", "Inverse ns/op", "Ingest ratio", "Ingest rows/s", "Ingest bare-rows/s"} {
		if _, ok := got[want]; !ok {
			return nil, fmt.Errorf("no benchmark gave %q", want)
		}
	}
	return []line{
		atLeast("verdict, server", got["Check verdicts/s"], 50_000, "a second and core", ""),
		only("distance on the ellipsoid", got["Inverse ns/op"], "ns", "15 nm are held in make test"),
		only("point among 3,233 counties", got["Locate ns/op"]/1000, "µs", ""),
		only("reading an operation", got["Decode MB/s"], "MB/s", ""),
		only("bare prepared SQLite insert", got["Ingest bare-rows/s"], "rows/s", "the physical limit, same run, same bytes"),
		only("ingest", got["Ingest rows/s"], "operations/s", "durable, hashed, folded on read"),
		atLeast("ingest to bare insert", got["Ingest ratio"], 0.5, "", ""),
	}, nil
}

// figures reads lines such as "BenchmarkX-2  100  12 ns/op  3 rows/s".
func figures(text []byte) map[string]float64 {
	got := map[string]float64{}
	for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
		f := strings.Fields(lines.Text())
		if len(f) < 4 || !strings.HasPrefix(f[0], "Benchmark") {
			continue
		}
		name, _, _ := strings.Cut(strings.TrimPrefix(f[0], "Benchmark"), "-")
		for i := 2; i+1 < len(f); i += 2 {
			if v, err := strconv.ParseFloat(f[i], 64); err == nil {
				got[name+" "+f[i+1]] = v
			}
		}
	}
	return got
}
