package store

import (
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
)

// The workload is records of 20 fields, about 825 bytes of names and values.
const benchBatch = 500

var benchWords = strings.Fields("gull road window wing broken fresh north pier wet sand box bag dusk ditch fence lamp hedge bridge verge mile")

func benchOps(tb testing.TB, p *oplogtest.Phone, rng *rand.Rand, n int) oplog.Batch {
	ops := make([][]byte, n)
	for i := range ops {
		var id op.ID
		for j := range id {
			id[j] = byte(rng.IntN(256))
		}
		g := op.Group{ID: id, Kind: "report"}
		for f := range 20 {
			var text []string
			for range 2 + rng.IntN(5) {
				text = append(text, benchWords[rng.IntN(len(benchWords))])
			}
			g.Acts = append(g.Acts, op.Set(fmt.Sprintf("field%d", f), op.Text(strings.Join(text, " "))))
		}
		ops[i] = p.Write(tb, g)
	}
	return p.Batch(ops...)
}

func benchBatches(tb testing.TB, phones, records int) [][]oplog.Batch {
	all := make([][]oplog.Batch, phones)
	for n := range all {
		p, rng := oplogtest.NewPhone(byte(n+1)), rand.New(rand.NewPCG(uint64(n), 1))
		for range records / phones / benchBatch {
			all[n] = append(all[n], benchOps(tb, p, rng, benchBatch))
		}
	}
	return all
}

func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkIngest pushes 10,000 new records from two phones at once and, in the same
// run, inserts the same bytes with a bare prepared statement under the same
// settings. Both are timed until everything has been moved from the log of
// SQLite into its file, so that neither gains by when that happens. ratio is
// ours to bare, in rows a second.
func BenchmarkIngest(b *testing.B) {
	const records = 10_000
	batches := benchBatches(b, 2, records)
	var ours, bare, used, bareUsed time.Duration
	runs := 0
	for b.Loop() {
		runs++
		d, c := ingest(b, batches)
		ours, used = ours+d, used+c
		d, c = bareInsert(b, batches)
		bare, bareUsed = bare+d, bareUsed+c
	}
	rows := float64(runs * records)
	b.ReportMetric(rows/ours.Seconds(), "rows/s")
	b.ReportMetric(rows/bare.Seconds(), "bare-rows/s")
	b.ReportMetric(bare.Seconds()/ours.Seconds(), "ratio")
	b.ReportMetric(used.Seconds()/float64(runs), "cpu-s/10k")
	b.ReportMetric(bareUsed.Seconds()/float64(runs), "bare-cpu-s/10k")
	b.ReportMetric(0, "ns/op")
}

func ingest(b *testing.B, batches [][]oplog.Batch) (wall, used time.Duration) {
	s, err := Open(filepath.Join(b.TempDir(), "w.db"), Options{Now: time.Now, Random: newChance(1)})
	if err != nil {
		b.Fatal(err)
	}
	begun, before := time.Now(), cpu()
	var phones sync.WaitGroup
	for _, mine := range batches {
		phones.Go(func() {
			for _, x := range mine {
				if _, err := s.Push(ctx, x); err != nil {
					b.Error(err)
				}
			}
		})
	}
	phones.Wait()
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	return time.Since(begun), cpu() - before
}

func bareInsert(b *testing.B, batches [][]oplog.Batch) (wall, used time.Duration) {
	path := filepath.Join(b.TempDir(), "bare.db")
	if err := create(path); err != nil {
		b.Fatal(err)
	}
	db, err := sql.Open("sqlite3", dsn(path, false))
	if err != nil {
		b.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE bare (n INTEGER PRIMARY KEY, wire BLOB NOT NULL)"); err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("PRAGMA wal_autocheckpoint = 4000"); err != nil {
		b.Fatal(err)
	}
	insert, err := db.Prepare("INSERT INTO bare (wire) VALUES (?)")
	if err != nil {
		b.Fatal(err)
	}
	begun, before := time.Now(), cpu()
	for _, mine := range batches {
		for _, x := range mine {
			tx, err := db.Begin()
			if err != nil {
				b.Fatal(err)
			}
			in := tx.Stmt(insert)
			for _, wire := range x.Ops {
				if _, err := in.Exec(wire); err != nil {
					b.Fatal(err)
				}
			}
			if err := tx.Commit(); err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := errors.Join(insert.Close(), db.Close()); err != nil {
		b.Fatal(err)
	}
	return time.Since(begun), cpu() - before
}

// BenchmarkRecord reads records that are folded from one operation each.
func BenchmarkRecord(b *testing.B) {
	s := openAt(b, filepath.Join(b.TempDir(), "w.db"), Options{Now: time.Now, Random: newChance(1)})
	batch := benchBatches(b, 1, benchBatch)[0][0]
	push(b, s, batch)
	ids := make([]op.ID, 0, len(batch.Ops))
	for _, wire := range batch.Ops {
		o, err := op.Decode(wire)
		if err != nil {
			b.Fatal(err)
		}
		ids = append(ids, o.On[0].ID)
	}
	i := 0
	for b.Loop() {
		if _, err := s.Record(ctx, ids[i%len(ids)]); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// BenchmarkEach goes through 10,000 records.
func BenchmarkEach(b *testing.B) {
	s := openAt(b, filepath.Join(b.TempDir(), "w.db"), Options{Now: time.Now, Random: newChance(1)})
	for _, x := range benchBatches(b, 1, 10_000)[0] {
		push(b, s, x)
	}
	n := 0
	for b.Loop() {
		n = 0
		if err := s.Each(ctx, Which{Kind: "report", Scope: "harbour"}, func(merge.State) error { n++; return nil }); err != nil {
			b.Fatal(err)
		}
	}
	if n != 10_000 {
		b.Fatalf("got %d records, want 10000", n)
	}
}
