package server_test

import (
	"fmt"
	"net/http"
	"runtime"
	"syscall"
	"testing"
	"time"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// BenchmarkPush10000 hands in ten thousand reports in runs of 500, as phones
// do, and tells what a report costs the server.
func BenchmarkPush10000(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		m := open(b, nil)
		cal := m.phone("cal", 1)
		const runs, each = 20, 500
		var bodies [][]byte
		bytes := 0
		for r := range runs {
			var ops [][]byte
			for n := range each {
				i := r*each + n
				f := find(map[string]any{"locality": fmt.Sprintf("M-82 westbound, milepost %d, Newaygo County, Michigan", i%90),
					"fix": record.Fix{Lat: 43.3 + float64(i%700)/2000, Lon: -85.9 + float64(i%300)/1000, Accuracy: 8, Level: 0.95, Source: "device"}, "place": nil})
				ops = append(ops, cal.save(groups(m.t, op.ID{byte(i), byte(i >> 8), 1}, f, op.ID{byte(i), byte(i >> 8), 2})...))
			}
			body := zipped(cal.batch(ops...))
			bytes += len(body)
			bodies = append(bodies, body)
		}
		before := cpu()
		b.StartTimer()
		for _, body := range bodies {
			if r := cal.pushBody(body, true); r.StatusCode != http.StatusOK {
				b.Fatalf("%d %s", r.StatusCode, r.body)
			}
		}
		b.StopTimer()
		b.ReportMetric((cpu() - before).Seconds(), "cpu-s/10000")
		b.ReportMetric(float64(bytes)/(runs*each), "wire-B/report")
		var mem runtime.MemStats
		runtime.ReadMemStats(&mem)
		b.ReportMetric(float64(mem.Sys)/(1<<20), "MiB-of-process")
		b.StartTimer()
	}
}

func cpu() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
