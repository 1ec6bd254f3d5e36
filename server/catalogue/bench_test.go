package catalogue

import (
	"context"
	"fmt"
	"testing"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// many is a log of n finds with one animal each.
func many(tb testing.TB, n int) *Memory {
	log := &Memory{Scope: "museum"}
	var ids uint64
	next := func() (id op.ID) {
		ids++
		for i := range 8 {
			id[i] = byte(ids >> (8 * i))
		}
		return id
	}
	for i := range n {
		report, animal := next(), next()
		on1, err := done(
			on(report, record.Report).set("found", day(fmt.Sprintf("2025-%02d-%02d", i%12+1, i%28+1))).set("taxon", record.Determination{Written: "Common Loon", Name: "Gavia immer"}).
				set("deed", "taken").set("authority", "STATE").set("place", record.Georeference{Known: true, Lat: 43, Lon: -86, State: "Michigan", County: "Mason"}).element("animals", animal.String()),
			on(animal, record.Animal).element("tags", fmt.Sprintf("K7Q%d", i)).set("disposition", "received"))
		if err != nil {
			tb.Fatal(err)
		}
		at := startMS + int64(i)
		log.Take(op.Op{Dev: op.DeviceID{1}, Seq: uint64(i + 1), HLC: clock.At(time.UnixMilli(at)), Actor: "p", Scope: "museum", Schema: 1, On: on1}, at)
	}
	return log
}

func BenchmarkBook(b *testing.B) {
	const finds = 20000
	log, ctx := many(b, finds), context.Background()
	book := Open(log, Surroundings{})
	if _, err := book.Place(ctx); err != nil {
		b.Fatal(err)
	}
	b.Run("fold", func(b *testing.B) {
		for b.Loop() {
			if _, err := Open(log, Surroundings{}).Place(ctx); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/finds, "ns/find")
	})
	b.Run("finds", func(b *testing.B) {
		for b.Loop() {
			if list, err := book.Finds(ctx, Filter{Text: "loon"}); err != nil || list.Matching != finds {
				b.Fatal(list.Matching, err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/finds, "ns/find")
	})
	b.Run("takes", func(b *testing.B) {
		for b.Loop() {
			if all, _, err := book.Takes(ctx, "STATE"); err != nil || len(all) != finds {
				b.Fatal(len(all), err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/finds, "ns/find")
	})
}
