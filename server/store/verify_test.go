package store

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
	"wayfall/sync/seal"
)

// sealedStore is a closed store with operations of several phones and of the
// server, something set aside, signed heads and photos.
func sealedStore(t testing.TB, saves int) string {
	t.Helper()
	path := newPath(t, "wayfall.db")
	opts := options()
	opts.Judge = func(_ *Tx, o op.Op) oplog.Ruling {
		if o.Seq%5 == 0 {
			return oplog.Ruling{Effect: oplog.Review, Code: "odd", Why: "a person has to look"}
		}
		return oplog.Ruling{Effect: oplog.OK}
	}
	s, err := openPath(path, opts)
	if err != nil {
		t.Fatal(err)
	}
	for n := range byte(3) {
		push(t, s, oplogtest.NewPhone(n+1).Saves(t, saves))
		if _, err := s.Seal(ctx); err != nil {
			t.Fatal(err)
		}
	}
	liar := oplogtest.NewPhone(1)
	push(t, s, liar.Batch(liar.Save(t, "another story")))
	for n := range byte(3) {
		photo := bytes.Repeat([]byte{n, 7, 9}, 100)
		if _, err := s.PutBlob(ctx, sha256.Sum256(photo), 0, int64(len(photo)), bytes.NewReader(photo)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Seal(ctx); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAWholeStoreIsFoundWhole(t *testing.T) {
	path := sealedStore(t, 40)
	a, err := VerifyFile(ctx, path, Look{Photos: photosOf(path)})
	if err != nil {
		t.Fatal(err)
	}
	if a.Operations < 120 || a.Devices != 3 || a.Photos != 3 || a.Heads < 3 || a.Unsealed() != 0 || a.Records == 0 {
		t.Errorf("got %+v", a)
	}
	h, err := seal.Open(a.Newest.Head, a.Newest.Key)
	if err != nil || h.Size != a.Operations {
		t.Errorf("got the head %+v (%v), want one of %d places", h, err, a.Operations)
	}
}

// cells are what a flipped byte may hit: the columns of a stored operation
// and its receipt, and of what was set aside.
var cells = []struct{ table, key, column string }{
	{"op", "lsn", "wire"}, {"op", "lsn", "wire"}, {"op", "lsn", "wire"}, {"op", "lsn", "hash"}, {"op", "lsn", "link"},
	{"op", "lsn", "seq"}, {"op", "lsn", "dev"}, {"op", "lsn", "received"}, {"op", "lsn", "eff"}, {"op", "lsn", "effect"},
	{"op", "lsn", "code"}, {"op", "lsn", "why"}, {"op", "lsn", "scope"}, {"op", "lsn", "lsn"},
	{"aside", "n", "wire"}, {"aside", "n", "hash"}, {"head", "n", "signed"}, {"tile", "id", "hashes"}, {"record", "rid", "lsns"},
}

// flip changes one bit of one byte of one cell, or of one photo, and returns
// what it hit and how to put it back.
func flip(t *testing.T, c *conn, blobs []string, rng *rand.Rand) (hit string, back func()) {
	t.Helper()
	n := rng.IntN(len(cells) + 2)
	if n >= len(cells) {
		path := blobs[rng.IntN(len(blobs))]
		return "photo", flipFile(t, path, rng)
	}
	x := cells[n]
	for {
		var key, old any
		if _, err := c.one(fmt.Sprintf("SELECT %s, %s FROM %s WHERE %[2]s IS NOT NULL ORDER BY random() LIMIT 1", x.key, x.column, x.table),
			func(r row) { key, old = r[0], r[1] }); err != nil || key == nil {
			t.Fatalf("nothing to hit in %s.%s (%v)", x.table, x.column, err)
		}
		bad := flipValue(old, rng)
		set := fmt.Sprintf("UPDATE OR FAIL %s SET %s = ? WHERE %s = ?", x.table, x.column, x.key)
		if _, err := c.exec(set, bad, key); err != nil {
			continue // SQLite's own indexes refuse it
		}
		if x.key == x.column {
			key = bad
		}
		return x.table + "." + x.column, func() {
			if _, err := c.exec(set, old, key); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func flipValue(v any, rng *rand.Rand) any {
	switch v := v.(type) {
	case int64:
		return v ^ 1<<rng.IntN(40)
	case string:
		return string(flipBytes([]byte(v), rng))
	case []byte:
		return flipBytes(bytes.Clone(v), rng)
	}
	return nil
}

func flipBytes(b []byte, rng *rand.Rand) []byte {
	b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
	return b
}

func flipFile(t *testing.T, path string, rng *rand.Rand) (back func()) {
	t.Helper()
	was, err := os.ReadFile(path)
	if err == nil {
		err = os.WriteFile(path, flipBytes(bytes.Clone(was), rng), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return func() {
		if err := os.WriteFile(path, was, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestAnyOneFlippedByteIsFound(t *testing.T) {
	const flips = 1000
	path := sealedStore(t, 12)
	blobs, err := filepath.Glob(path + ".blobs/??/*")
	if err != nil || len(blobs) != 3 {
		t.Fatalf("got photos %v (%v)", blobs, err)
	}
	c, err := connect(path, false)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := c.close(); err != nil {
			t.Error(err)
		}
	}()
	if _, err := c.exec("PRAGMA foreign_keys = 0"); err != nil {
		t.Fatal(err)
	}
	found, hits, rng := 0, map[string]int{}, rand.New(rand.NewPCG(11, 3))
	for range flips {
		hit, back := flip(t, c, blobs, rng)
		hits[hit]++
		if _, err := VerifyFile(ctx, path, Look{}); err != nil {
			found++
		} else {
			t.Errorf("a flip in %s was not found", hit)
		}
		back()
	}
	if _, err := VerifyFile(ctx, path, Look{}); err != nil {
		t.Errorf("put back, the store is not whole: %v", err)
	}
	t.Logf("SHOW %d flips of one bit, %d found; by what was hit: %v", flips, found, hits)
}

func TestAFlippedByteOfTheFileItselfIsFound(t *testing.T) {
	path := sealedStore(t, 12)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	found, wires, rng := 0, wiresIn(t, path), rand.New(rand.NewPCG(5, 8))
	for _, wire := range wires {
		// SQLite leaves stale bytes behind on pages it split, so every copy is hit.
		bad, hits := flipBytes(bytes.Clone(wire), rng), bytes.Count(file, wire)
		if hits == 0 {
			t.Fatal("an operation is not in the file in one piece")
		}
		if err := os.WriteFile(path, bytes.ReplaceAll(file, wire, bad), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := VerifyFile(ctx, path, Look{}); err != nil {
			found++
		} else {
			t.Errorf("a flipped byte of %s was not found", wire)
		}
	}
	t.Logf("SHOW %d flips in the database file, %d found", len(wires), found)
}

func wiresIn(t *testing.T, path string) (wires [][]byte) {
	t.Helper()
	c, err := connect(path, true)
	if err != nil {
		t.Fatal(err)
	}
	err = c.query("SELECT wire FROM op ORDER BY lsn", func(r row) error {
		wires = append(wires, bytes.Clone(r.bytes(0)))
		return nil
	})
	if err := errors.Join(err, c.close()); err != nil {
		t.Fatal(err)
	}
	return wires
}

func TestTheFirstDamagedPlaceIsNamed(t *testing.T) {
	for name, tc := range map[string]struct{ spoil, want string }{
		"an operation":           {"UPDATE op SET wire = replace(wire, 'remark', 'remork') WHERE lsn IN (5, 9)", "place 5 of the log, operation 5"},
		"a receipt":              {"UPDATE op SET received = received + 1 WHERE lsn = 7", "place 7 of the log"},
		"an operation taken out": {"DELETE FROM op WHERE lsn = 4", "place 4 of the log is missing"},
		"the end cut off":        {"DELETE FROM op WHERE lsn > 30", "the log ends at place 30"},
		"a record's list":        {"UPDATE record SET lsns = x'01' WHERE rid = 1", "does not list the operations"},
		"a record taken out":     {"DELETE FROM record WHERE rid = 1", "is not listed"},
		"a head":                 {"UPDATE head SET signed = replace(signed, 'wayfall-', 'wayfoll-') WHERE n = 2", "signed head 2"},
		"a whole new log's head": {"DELETE FROM tile", "place 1 of the log"},
		"the signing key":        {"UPDATE meta SET value = zeroblob(32) WHERE name = 'key seal'", "signed head 1"},
	} {
		t.Run(name, func(t *testing.T) {
			path := sealedStore(t, 12)
			c, err := connect(path, false)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := c.exec("PRAGMA foreign_keys = 0"); err != nil {
				t.Fatal(err)
			}
			if n, err := c.exec(tc.spoil); err != nil || n == 0 {
				t.Fatalf("spoiled %d rows (%v)", n, err)
			}
			if err := c.close(); err != nil {
				t.Fatal(err)
			}
			if _, err := VerifyFile(ctx, path, Look{}); err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("got %v, want %q in it", err, tc.want)
			}
		})
	}
}

func TestARewrittenHistoryPartsFromAHeadThatSomebodyKept(t *testing.T) {
	path := sealedStore(t, 12)
	s := openAt(t, path, options())
	kept, err := s.Sealed(ctx)
	if err != nil {
		t.Fatal(err)
	}
	push(t, s, oplogtest.NewPhone(9).Saves(t, 600))
	if _, err := s.Seal(ctx); err != nil {
		t.Fatal(err)
	}
	proof, newest, err := s.ProveSince(ctx, kept.Size)
	if err != nil {
		t.Fatal(err)
	}
	older, err := seal.Open(kept.Head, kept.Key)
	if err != nil {
		t.Fatal(err)
	}
	newer, err := seal.Open(newest.Head, newest.Key)
	if err != nil {
		t.Fatal(err)
	}
	if err := seal.Agree(proof, older, newer); err != nil {
		t.Errorf("honest heads: %v", err)
	}
	if _, err := VerifyFile(ctx, path, Look{Kept: []string{kept.Head}}); err != nil {
		t.Errorf("the head that was kept: %v", err)
	}
	lie := older
	lie.Root[3] ^= 1
	if signed, err := lie.Sign(keyInside(t, path)); err != nil {
		t.Fatal(err)
	} else if _, err := VerifyFile(ctx, path, Look{Kept: []string{signed}}); err == nil || !strings.Contains(err.Error(), "the head that was kept") {
		t.Errorf("a head of another log: got %v", err)
	}
	// The same server, key and length of log, but another story.
	older.Root[3] ^= 1
	if err := seal.Agree(proof, older, newer); err == nil {
		t.Error("a head of another story agrees")
	}
	if _, _, err := s.ProveSince(ctx, newest.Size+1); err == nil {
		t.Error("a proof from beyond the end was given")
	}
}

func keyInside(t *testing.T, path string) []byte {
	t.Helper()
	c, err := connect(path, true)
	if err != nil {
		t.Fatal(err)
	}
	seed, err := keyOf(c)
	if err := errors.Join(err, c.close()); err != nil {
		t.Fatal(err)
	}
	return seed
}

func TestARestoredStoreIsWholeAndKeepsTheHeadsOfItsEarlierLife(t *testing.T) {
	path := sealedStore(t, 12)
	s := openAt(t, path, options())
	copied := filepath.Join(t.TempDir(), "copy.db")
	if _, err := s.Backup(ctx, copied); err != nil {
		t.Fatal(err)
	}
	fresh := options()
	fresh.Random = newChance(77)
	r := openAt(t, copied, fresh)
	if err := r.NewIncarnation(ctx); err != nil {
		t.Fatal(err)
	}
	before, err := r.Sealed(ctx)
	if err != nil {
		t.Fatal(err)
	}
	push(t, r, oplogtest.NewPhone(7).Saves(t, 3))
	if _, err := r.Seal(ctx); err != nil {
		t.Fatal(err)
	}
	after, err := r.Sealed(ctx)
	if err != nil || seal.OriginOf(after.Head) == seal.OriginOf(before.Head) {
		t.Errorf("the new life signs as the old one did (%v)", err)
	}
	verify(t, r)
}
