package screen_test

import (
	"encoding/json"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/screen"
)

func show2(v permits.Verdict) string {
	text, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// BenchmarkCheck states verdicts a second over all scenarios, digest of the
// facts included.
func BenchmarkCheck(b *testing.B) {
	f := loadVectors(b)
	w := loadWorld(b, packs.Authorities())
	var all []screen.Facts
	for i := range f.Cases {
		all = append(all, f.facts(b, &f.Cases[i])...)
	}
	w.Tally = f.Cases[0].Tallies
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		screen.Check(&all[n%len(all)], w)
		n++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "verdicts/s")
}
