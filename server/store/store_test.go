package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
	"wayfall/sync/record"
)

var ctx = context.Background()

// chance is a reproducible source of bytes.
type chance struct{ *rand.ChaCha8 }

func newChance(seed byte) io.Reader { return chance{rand.NewChaCha8([32]byte{seed})} }

var noon = time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)

func options() Options {
	now := noon
	var mu sync.Mutex
	return Options{Random: newChance(1), Now: func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Millisecond)
		return now
	}}
}

func openAt(t testing.TB, path string, opts Options) *Store {
	t.Helper()
	s, err := openPath(path, opts)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return s
}

func openNew(t testing.TB) *Store {
	return openAt(t, newPath(t, "wayfall.db"), options())
}

func push(t testing.TB, s *Store, b oplog.Batch) []oplog.Receipt {
	t.Helper()
	rs, err := s.Push(ctx, b)
	if err != nil {
		t.Fatal(err)
	}
	return rs
}

func verify(t testing.TB, s *Store) {
	t.Helper()
	if err := s.Verify(ctx); err != nil {
		t.Errorf("verify: %v", err)
	}
}

func TestTheStoreKeepsTheLogsPromises(t *testing.T) {
	oplogtest.Run(t, func(t *testing.T, judge oplog.Judge) oplog.Log {
		opts := options()
		if judge != nil {
			opts.Judge = func(_ *Tx, o op.Op) oplog.Ruling { return judge(o) }
		}
		return openAt(t, newPath(t, "odd # name?.db"), opts)
	})
}

func TestWhatWasWrittenIsThereAfterReopening(t *testing.T) {
	path := newPath(t, "wayfall.db")
	p := oplogtest.NewPhone(1)
	first, err := openPath(path, options())
	if err != nil {
		t.Fatal(err)
	}
	b := p.Saves(t, 20)
	rs := push(t, first, b)
	id := first.Identity()
	state, err := first.Record(ctx, op.ID{1, 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	second := openAt(t, path, options())
	if second.Identity() != id || second.Last() != 20 {
		t.Errorf("got identity %v and %d operations, want %v and 20", second.Identity(), second.Last(), id)
	}
	if again := push(t, second, b); !slices.Equal(again, rs) {
		t.Errorf("got receipts %+v, want %+v", again, rs)
	}
	if st, err := second.Record(ctx, op.ID{1, 1}); err != nil || st.Digest() != state.Digest() {
		t.Errorf("the record is another after reopening (%v)", err)
	}
	verify(t, second)
}

func TestAClosedStoreRefuses(t *testing.T) {
	s, err := openPath(newPath(t, "w.db"), options())
	if err != nil {
		t.Fatal(err)
	}
	b := oplogtest.NewPhone(1).Saves(t, 1)
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Push(ctx, b); !fault.Is(err, fault.Busy) {
		t.Errorf("push: got %v, want busy", err)
	}
	if _, err := s.Record(ctx, op.ID{1}); !fault.Is(err, fault.Busy) {
		t.Errorf("read: got %v, want busy", err)
	}
	if err := s.Wait(ctx, 0); !fault.Is(err, fault.Busy) {
		t.Errorf("wait: got %v, want busy", err)
	}
}

func TestClosingFinishesWhatWasBegun(t *testing.T) {
	path := newPath(t, "w.db")
	s, err := openPath(path, options())
	if err != nil {
		t.Fatal(err)
	}
	var pushing sync.WaitGroup
	var mu sync.Mutex
	acked := 0
	for n := range 8 {
		b := oplogtest.NewPhone(byte(n+1)).Saves(t, 50)
		pushing.Go(func() {
			rs, err := s.Push(ctx, b)
			if err != nil && !fault.Is(err, fault.Busy) {
				t.Errorf("push: %v", err)
			}
			mu.Lock()
			defer mu.Unlock()
			acked += len(rs)
		})
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	pushing.Wait()
	if got := openAt(t, path, options()).Last(); got != uint64(acked) {
		t.Errorf("got %d operations, want the %d acknowledged", got, acked)
	}
}

// The state folded bit by bit on disk equals the whole log folded in memory.
func TestRecordsEqualTheFoldedLog(t *testing.T) {
	s := openNew(t)
	rng := rand.New(rand.NewPCG(3, 3))
	phones := []*oplogtest.Phone{oplogtest.NewPhone(1), oplogtest.NewPhone(2), oplogtest.NewPhone(3)}
	ids := []op.ID{{1}, {2}, {3}}
	for range 120 {
		p := phones[rng.IntN(len(phones))]
		var ops [][]byte
		for range 1 + rng.IntN(3) {
			var on []op.Group
			for _, id := range ids[rng.IntN(3):] {
				v := op.Value(fmt.Sprint(rng.IntN(3)))
				on = append(on, op.Group{ID: id, Kind: "report", Acts: []op.Act{
					op.Set("cause", v), op.Add("photos", v), op.Event("remarks", v)}})
			}
			ops = append(ops, p.Write(t, on...))
		}
		push(t, s, p.Batch(ops...))
	}
	log, err := s.Read(ctx, 0, 10_000)
	if err != nil {
		t.Fatal(err)
	}
	for _, asOf := range []uint64{0, uint64(len(log)) / 2, 3} {
		want := map[op.ID]*merge.State{}
		for _, id := range ids {
			st := merge.New(id, record.Report)
			want[id] = &st
		}
		for _, e := range log {
			o, err := op.Decode(e.Wire)
			if err != nil {
				t.Fatal(err)
			}
			for _, id := range ids {
				if asOf == 0 || e.LSN <= asOf {
					want[id].Apply(o, merge.Receipt{LSN: e.LSN, Eff: e.Eff})
				}
			}
		}
		seen := 0
		err := s.Each(ctx, Which{Kind: record.Report, Scope: "harbour", AsOf: asOf}, func(st merge.State) error {
			seen++
			if st.Digest() != want[st.ID].Digest() {
				t.Errorf("as of %d: record %v is not what the log folds to", asOf, st.ID)
			}
			return nil
		})
		if err != nil || seen != len(ids) {
			t.Errorf("as of %d: got %d records (%v), want %d", asOf, seen, err, len(ids))
		}
	}
	history, err := s.OpsOf(ctx, ids[2])
	if err != nil || len(history) < 50 {
		t.Errorf("got a history of %d operations (%v), want 50 or more", len(history), err)
	}
	verify(t, s)
}

func TestOperationsWithoutEffectAreKeptButNotFolded(t *testing.T) {
	opts := options()
	opts.Judge = func(_ *Tx, o op.Op) oplog.Ruling {
		if o.Seq == 2 {
			return oplog.Ruling{Effect: oplog.Quarantined, Code: "no"}
		}
		return oplog.Ruling{Effect: oplog.Review}
	}
	s := openAt(t, newPath(t, "w.db"), opts)
	push(t, s, oplogtest.NewPhone(1).Saves(t, 3))
	id := op.ID{1, 1}
	st, err := s.Record(ctx, id)
	if err != nil || len(st.Field("remarks").Events) != 2 {
		t.Errorf("got %d remarks (%v), want 2", len(st.Field("remarks").Events), err)
	}
	if h, err := s.OpsOf(ctx, id); err != nil || len(h) != 3 || h[1].Effect != oplog.Quarantined {
		t.Errorf("got %d operations in the history (%v), want 3 with the quarantined one", len(h), err)
	}
}

func TestAJudgeSeesTheRecordBeforeTheOperation(t *testing.T) {
	opts := options()
	var seen []int
	opts.Judge = func(tx *Tx, o op.Op) oplog.Ruling {
		st, err := tx.Record(o.On[0].ID)
		if err != nil && !fault.Is(err, fault.Missing) {
			t.Error(err)
		}
		seen = append(seen, len(st.Field("remarks").Events))
		if _, err := tx.Write(Author{"x", "harbour"}, o.On...); err == nil {
			t.Error("a judge wrote")
		}
		return oplog.Ruling{Effect: oplog.OK}
	}
	s := openAt(t, newPath(t, "w.db"), opts)
	push(t, s, oplogtest.NewPhone(1).Saves(t, 3))
	if !slices.Equal(seen, []int{0, 1, 2}) {
		t.Errorf("got %v remarks before each operation, want 0, 1, 2", seen)
	}
}

func TestAJudgeThatPanicsStopsNobody(t *testing.T) {
	opts := options()
	opts.Judge = func(_ *Tx, o op.Op) oplog.Ruling { panic("a rule divided by zero") }
	s := openAt(t, newPath(t, "w.db"), opts)
	if r := push(t, s, oplogtest.NewPhone(1).Saves(t, 1))[0]; r.Effect != oplog.Review || r.Code != CodeUnjudged {
		t.Errorf("got %+v, want it in review", r)
	}
}

func remark(id op.ID, text string) op.Group {
	return op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Event("remarks", op.Text(text))}}
}

func TestTheServerWritesAsADeviceOfItsOwn(t *testing.T) {
	s := openNew(t)
	push(t, s, oplogtest.NewPhone(1).Saves(t, 2))
	a := Author{Actor: "registrar", Scope: "harbour"}
	r, err := s.Write(ctx, a, remark(op.ID{1, 1}, "at the desk"), remark(op.ID{9}, "another"))
	if err != nil || r.Dev != s.Identity().Device || r.Seq != 1 || r.LSN != 3 || r.Effect != oplog.OK {
		t.Fatalf("got %+v (%v)", r, err)
	}
	st, err := s.Record(ctx, op.ID{1, 1})
	if err != nil || len(st.Field("remarks").Events) != 3 {
		t.Errorf("got %d remarks (%v), want 3", len(st.Field("remarks").Events), err)
	}
	e, err := s.Read(ctx, 2, 1)
	if err != nil || len(e) != 1 {
		t.Fatal(err)
	}
	o, err := op.Decode(e[0].Wire)
	if err != nil || o.Base != 2 || o.Wall.Source != "server" || o.Actor != "registrar" || len(o.On) != 2 {
		t.Errorf("got %+v (%v)", o, err)
	}
	if _, err := s.Write(ctx, a, op.Group{ID: op.ID{1}, Kind: "report"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("an operation without acts: got %v, want invalid", err)
	}
	verify(t, s)
}

func TestNumbersDecidedAtTheEndOfTheLogAreUnique(t *testing.T) {
	s := openNew(t)
	a := Author{Actor: "registrar", Scope: "harbour"}
	var all sync.WaitGroup
	for i := range 40 {
		all.Go(func() {
			_, err := s.WriteIf(ctx, a, func(tx *Tx) ([]op.Group, error) {
				it, err := tx.Get("numbers", "catalogue")
				if err != nil && !fault.Is(err, fault.Missing) {
					return nil, err
				}
				n := len(it.Value) + 1
				if _, err := tx.Put("numbers", "catalogue", make([]byte, n), it.Version); err != nil {
					return nil, err
				}
				g := op.Group{ID: op.ID{byte(i + 1)}, Kind: "animal", Acts: []op.Act{op.Set("catalogue_no", op.Text(fmt.Sprint(n)))}}
				if i%10 == 9 {
					return []op.Group{g}, errors.New("thought better of it")
				}
				return []op.Group{g}, nil
			})
			if (i%10 == 9) != (err != nil) {
				t.Errorf("writer %d: %v", i, err)
			}
		})
	}
	all.Wait()
	got := map[op.Value]bool{}
	if err := s.Each(ctx, Which{Kind: record.Animal, Scope: "harbour"}, func(st merge.State) error {
		got[st.Value("catalogue_no")] = true
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= 36; n++ {
		if !got[op.Text(fmt.Sprint(n))] {
			t.Errorf("number %d was not given; a refused write left a hole", n)
		}
	}
	if len(got) != 36 {
		t.Errorf("got %d numbers, want 36", len(got))
	}
	verify(t, s)
}

func TestAFailedWriteLeavesNothingAndHurtsNobodyBeside(t *testing.T) {
	s := openNew(t)
	p := oplogtest.NewPhone(1)
	a := Author{Actor: "registrar", Scope: "harbour"}
	for i := range 10 {
		b := p.Saves(t, 3)
		var beside sync.WaitGroup
		beside.Go(func() {
			if _, err := s.Push(ctx, b); err != nil {
				t.Errorf("push beside a failing write: %v", err)
			}
		})
		err := s.Within(ctx, func(tx *Tx) error {
			if _, err := tx.Write(a, remark(op.ID{9}, "never")); err != nil {
				return err
			}
			if _, err := tx.Put("x", "y", []byte("never"), Any); err != nil {
				return err
			}
			if i%2 == 0 {
				panic("half way")
			}
			return errors.New("half way")
		})
		if err == nil {
			t.Error("the failed write reports success")
		}
		beside.Wait()
	}
	if _, err := s.Record(ctx, op.ID{9}); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want the failed record missing", err)
	}
	if _, err := s.Get(ctx, "x", "y"); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want the drawer empty", err)
	}
	if s.Last() != 30 {
		t.Errorf("got %d operations, want 30", s.Last())
	}
	verify(t, s)
}

func TestPullGivesEachOperationOfItsScopeOnce(t *testing.T) {
	s := openNew(t)
	want := map[string]int{"harbour": 0, "hill": 0}
	for i := range 30 {
		scope := []string{"harbour", "hill", "hill"}[i%3]
		want[scope]++
		if _, err := s.Write(ctx, Author{"a", scope}, remark(op.ID{byte(i)}, "x")); err != nil {
			t.Fatal(err)
		}
	}
	for scope, n := range want {
		got, after := 0, uint64(0)
		for more := true; more; {
			var page []oplog.Entry
			var err error
			if page, more, err = s.Pull(ctx, scope, after, 4, 700); err != nil {
				t.Fatal(err)
			}
			if len(page) == 0 || len(page) > 4 {
				t.Fatalf("%s: got a page of %d", scope, len(page))
			}
			for _, e := range page {
				o, err := op.Decode(e.Wire)
				if err != nil || o.Scope != scope || e.LSN <= after {
					t.Errorf("%s: got %q at %d after %d (%v)", scope, o.Scope, e.LSN, after, err)
				}
				after = e.LSN
				got++
			}
		}
		if got != n {
			t.Errorf("%s: got %d operations, want %d", scope, got, n)
		}
	}
	if page, more, err := s.Pull(ctx, "nowhere", 0, 10, 1000); len(page) != 0 || more || err != nil {
		t.Errorf("an unknown scope: got %d, %v, %v", len(page), more, err)
	}
}

func TestDevices(t *testing.T) {
	s := openNew(t)
	p := oplogtest.NewPhone(1)
	if _, err := s.Device(ctx, p.Dev); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want missing", err)
	}
	if err := errors.Join(s.Enrol(ctx, p.Dev, "ada"), s.Enrol(ctx, p.Dev, "ada")); err != nil {
		t.Fatal(err)
	}
	if err := s.Enrol(ctx, p.Dev, "bo"); !fault.Is(err, fault.Denied) {
		t.Errorf("enrolled by another: got %v, want denied", err)
	}
	if err := s.SetFrozen(ctx, p.Dev, "lost"); err != nil {
		t.Fatal(err)
	}
	if r := push(t, s, p.Saves(t, 1))[0]; r.Code != oplog.CodeFrozen || r.LSN == 0 {
		t.Errorf("got %+v from a stopped device, want it logged without effect", r)
	}
	if err := s.SetFrozen(ctx, p.Dev, ""); err != nil {
		t.Fatal(err)
	}
	if r := push(t, s, p.Saves(t, 1))[0]; r.Effect != oplog.OK {
		t.Errorf("got %+v after it was let go, want ok", r)
	}
	if all, err := s.Devices(ctx); err != nil || len(all) != 1 || all[0].Actor != "ada" || all[0].Frozen != "" {
		t.Errorf("got %+v (%v)", all, err)
	}
}

func TestDrawers(t *testing.T) {
	s := openNew(t)
	v1, err := s.Put(ctx, "people", "ada", []byte("1"), New)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Put(ctx, "people", "ada", []byte("2"), New); !fault.Is(err, fault.Stale) {
		t.Errorf("new although there: got %v, want stale", err)
	}
	v2, err := s.Put(ctx, "people", "ada", []byte("2"), v1)
	if err != nil || v2 <= v1 {
		t.Errorf("got version %d (%v), want above %d", v2, err, v1)
	}
	if _, err := s.Put(ctx, "people", "ada", []byte("3"), v1); !fault.Is(err, fault.Stale) {
		t.Errorf("over an old version: got %v, want stale", err)
	}
	for _, k := range []string{"bo", "bo%", "b_"} {
		if _, err := s.Put(ctx, "people", k, nil, Any); err != nil {
			t.Fatal(err)
		}
	}
	var keys []string
	if err := s.List(ctx, "people", "bo", func(it Item) error { keys = append(keys, it.Key); return nil }); err != nil || !slices.Equal(keys, []string{"bo", "bo%"}) {
		t.Errorf("got %v (%v), want bo and bo%%", keys, err)
	}
	if err := s.Delete(ctx, "people", "ada", v1); !fault.Is(err, fault.Stale) {
		t.Errorf("delete of an old version: got %v, want stale", err)
	}
	if err := errors.Join(s.Delete(ctx, "people", "ada", v2), s.Delete(ctx, "people", "ada", Any)); err != nil {
		t.Error(err)
	}
	if it, err := s.Get(ctx, "people", "bo"); err != nil || it.Version != 1 || len(it.Value) != 0 {
		t.Errorf("got %+v (%v)", it, err)
	}
	k1, err1 := s.Key(ctx, "cursor")
	k2, err2 := s.Key(ctx, "cursor")
	k3, err3 := s.Key(ctx, "token")
	if errors.Join(err1, err2, err3) != nil || len(k1) != 32 || !bytes.Equal(k1, k2) || bytes.Equal(k1, k3) {
		t.Error("keys are not kept, or not their own")
	}
}

func TestBlobs(t *testing.T) {
	s := openNew(t)
	data := bytes.Repeat([]byte("feather "), 50_000)
	sum, size := Sum(sha256.Sum256(data)), int64(len(data))
	if _, _, err := s.Blob(sum); !fault.Is(err, fault.Missing) {
		t.Errorf("got %v, want missing", err)
	}
	broken := io.MultiReader(bytes.NewReader(data[:1000]), &failing{})
	if whole, err := s.PutBlob(ctx, sum, 0, size, broken); whole || err == nil {
		t.Errorf("a broken upload: got whole %v (%v)", whole, err)
	}
	at, whole, err := s.BlobOffset(sum)
	if err != nil || whole || at != 1000 {
		t.Fatalf("got offset %d, whole %v (%v), want 1000", at, whole, err)
	}
	if _, err := s.PutBlob(ctx, sum, 500, size, bytes.NewReader(data[500:])); !fault.Is(err, fault.Stale) {
		t.Errorf("from the wrong byte: got %v, want stale", err)
	}
	if whole, err := s.PutBlob(ctx, sum, at, size, bytes.NewReader(data[at:])); !whole || err != nil {
		t.Errorf("the rest: got whole %v (%v)", whole, err)
	}
	f, n, err := s.Blob(sum)
	if err != nil || n != size {
		t.Fatalf("got %d bytes (%v), want %d", n, err, size)
	}
	got, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil || !bytes.Equal(got, data) {
		t.Errorf("other bytes came back (%v)", err)
	}
	if whole, err := s.PutBlob(ctx, sum, 0, size, &failing{}); !whole || err != nil {
		t.Errorf("bytes that are there: got whole %v (%v), want nothing read", whole, err)
	}
	other := Sum(sha256.Sum256([]byte("other")))
	if _, err := s.PutBlob(ctx, other, 0, 5, strings.NewReader("wrong")); !fault.Is(err, fault.Invalid) {
		t.Errorf("wrong bytes: got %v, want invalid", err)
	}
	if at, whole, err := s.BlobOffset(other); at != 0 || whole || err != nil {
		t.Errorf("after wrong bytes: got offset %d, whole %v (%v), want nothing", at, whole, err)
	}
	if back, err := ParseSum(sum.String()); err != nil || back != sum {
		t.Errorf("got %v (%v) back", back, err)
	}
	if _, err := ParseSum(strings.ToUpper(sum.String())); !fault.Is(err, fault.Invalid) {
		t.Errorf("in capitals: got %v, want invalid", err)
	}
}

type failing struct{}

func (*failing) Read([]byte) (int, error) { return 0, errors.New("the line went dead") }

func TestManyUploadsOfTheSameBytesEndWithTheRightBytes(t *testing.T) {
	s := openNew(t)
	data := bytes.Repeat([]byte("wing "), 20_000)
	sum := Sum(sha256.Sum256(data))
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if _, err := s.PutBlob(ctx, sum, 0, int64(len(data)), bytes.NewReader(data)); err != nil && !fault.Is(err, fault.Busy) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	f, _, err := s.Blob(sum)
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil || !bytes.Equal(got, data) {
		t.Errorf("other bytes came back (%v)", err)
	}
}

// A server that lost its end is told everything again by those who remember.
func TestARestoredStoreLearnsWhatPhonesStillHold(t *testing.T) {
	dir := t.TempDir()
	s := openAt(t, filepath.Join(dir, "w.db"), options())
	p := oplogtest.NewPhone(1)
	early, late := p.Saves(t, 5), p.Saves(t, 5)
	push(t, s, early)
	if _, err := s.Write(ctx, Author{"a", "harbour"}, remark(op.ID{9}, "desk")); err != nil {
		t.Fatal(err)
	}
	copyAt := filepath.Join(dir, "copy.db")
	lsn, err := s.Backup(ctx, copyAt)
	if err != nil || lsn != 6 {
		t.Fatalf("got a copy up to %d (%v), want 6", lsn, err)
	}
	if err := errors.Join(s.SetBackedUp(ctx, lsn), s.SetBackedUp(ctx, 2)); err != nil {
		t.Fatal(err)
	}
	if got, err := s.BackedUp(ctx); err != nil || got != 6 {
		t.Errorf("got backed up to %d (%v), want 6", got, err)
	}
	push(t, s, late)
	want, err := s.Record(ctx, op.ID{1, 1})
	if err != nil {
		t.Fatal(err)
	}

	opts := options()
	opts.Random = newChance(2)
	r := openAt(t, copyAt, opts)
	before := r.Identity()
	if err := r.NewIncarnation(ctx); err != nil {
		t.Fatal(err)
	}
	id := r.Identity()
	if id.Server != before.Server || id.Incarnation == before.Incarnation || id.Device == before.Device {
		t.Errorf("got %v after %v, want the same server in another life", id, before)
	}
	if h, err := r.Head(ctx, p.Dev); err != nil || h.Seq != 5 {
		t.Errorf("got %d operations of the phone (%v), want 5", h.Seq, err)
	}
	push(t, r, late)
	got, err := r.Record(ctx, op.ID{1, 1})
	if err != nil || len(got.Field("remarks").Events) != len(want.Field("remarks").Events) {
		t.Errorf("got %d remarks (%v), want %d", len(got.Field("remarks").Events), err, len(want.Field("remarks").Events))
	}
	if _, err := r.Write(ctx, Author{"a", "harbour"}, remark(op.ID{9}, "desk again")); err != nil {
		t.Error(err)
	}
	verify(t, r)
}

func TestVerifyNoticesAFlippedBit(t *testing.T) {
	path := newPath(t, "w.db")
	s, err := openPath(path, options())
	if err != nil {
		t.Fatal(err)
	}
	push(t, s, oplogtest.NewPhone(1).Saves(t, 20))
	verify(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	was := []byte(`"val":"remark 7 of`)
	if !bytes.Contains(b, was) {
		t.Fatal("the operation is not on disk")
	}
	b = bytes.ReplaceAll(b, was, []byte(`"val":"remarj 7 of`)) // k and j differ in one bit; old pages may hold copies
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := openAt(t, path, options()).Verify(ctx); err == nil || !strings.Contains(err.Error(), "place 7 ") {
		t.Errorf("got %v, want place 7 named", err)
	}
}

func TestTimesOfReceiptNeverFall(t *testing.T) {
	opts := options()
	times := []time.Time{noon, noon.Add(-time.Hour), noon.Add(time.Second), noon.AddDate(-10, 0, 0), noon.Add(2 * time.Second)}
	i := 0
	opts.Now = func() time.Time { i++; return times[min(i, len(times))-1] }
	s := openAt(t, newPath(t, "w.db"), opts)
	for n := range 4 {
		if _, err := s.Write(ctx, Author{"a", "h"}, remark(op.ID{byte(n)}, "x")); err != nil {
			t.Fatal(err)
		}
	}
	es, err := s.Read(ctx, 0, 10)
	if err != nil {
		t.Fatal(err)
	}
	var stamp clock.Stamp
	for i, e := range es {
		if i > 0 && e.Received < es[i-1].Received {
			t.Errorf("place %d was received before place %d", e.LSN, e.LSN-1)
		}
		if e.Eff.Compare(stamp) <= 0 {
			t.Errorf("the server's stamp at place %d is %v after %v", e.LSN, e.Eff, stamp)
		}
		stamp = e.Eff
	}
	mid := es[2].Received
	if lsn, err := s.LastBefore(ctx, mid); err != nil || lsn == 0 || es[lsn-1].Received >= mid || es[lsn].Received < mid {
		t.Errorf("got place %d before %d (%v)", lsn, mid, err)
	}
}

func TestAWriteGivenUpBeforeItBeganWritesNothing(t *testing.T) {
	s := openNew(t)
	held, release, over := make(chan bool), make(chan bool), make(chan error, 1)
	go func() {
		over <- s.Within(ctx, func(*Tx) error {
			close(held)
			<-release
			return nil
		})
	}()
	<-held // the writer is busy
	short, stop := context.WithTimeout(ctx, 10*time.Millisecond)
	defer stop()
	b := oplogtest.NewPhone(1).Saves(t, 2)
	if rs, err := s.Push(short, b); !errors.Is(err, context.DeadlineExceeded) || rs != nil {
		t.Errorf("got %v (%v), want the deadline", rs, err)
	}
	if _, err := s.Push(short, b); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("after the deadline: got %v, want it again", err)
	}
	close(release)
	if err := <-over; err != nil {
		t.Fatal(err)
	}
	if _, err := s.Put(ctx, "a", "b", nil, Any); err != nil { // goes in behind
		t.Fatal(err)
	}
	if s.Last() != 0 {
		t.Errorf("got %d operations, want none", s.Last())
	}
	if rs := push(t, s, b); len(rs) != 2 {
		t.Errorf("offered again: got %d receipts, want 2", len(rs))
	}
}

func TestTooManyWritesAreToldToComeBack(t *testing.T) {
	s := openNew(t)
	held, release := make(chan bool), make(chan bool)
	var all sync.WaitGroup
	all.Go(func() {
		_ = s.Within(ctx, func(*Tx) error {
			close(held)
			<-release
			return nil
		})
	})
	<-held
	var busy, kept atomic.Int64
	for i := range queue + 20 {
		all.Go(func() {
			switch _, err := s.Put(ctx, "a", fmt.Sprint(i), nil, Any); {
			case err == nil:
				kept.Add(1)
			case fault.Is(err, fault.Busy):
				busy.Add(1)
			default:
				t.Error(err)
			}
		})
	}
	for busy.Load() < 20 {
		time.Sleep(time.Millisecond)
	}
	close(release)
	all.Wait()
	if kept.Load() != queue || busy.Load() != 20 {
		t.Errorf("got %d kept and %d told to come back, want %d and 20", kept.Load(), busy.Load(), queue)
	}
}

func TestWaitReturnsAtTheNextCommit(t *testing.T) {
	s := openNew(t)
	short, stop := context.WithTimeout(ctx, 20*time.Millisecond)
	defer stop()
	if err := s.Wait(short, 0); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("with nothing new: got %v, want the deadline", err)
	}
	done := make(chan error, 1)
	go func() { done <- s.Wait(ctx, 0) }()
	push(t, s, oplogtest.NewPhone(1).Saves(t, 1))
	if err := <-done; err != nil {
		t.Errorf("got %v, want none", err)
	}
}

func ExampleStore_Write() {
	dir, err := os.MkdirTemp("", "wayfall")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	s, err := openPath(filepath.Join(dir, "wayfall.db"), options())
	if err != nil {
		panic(err)
	}
	defer s.Close()
	animal := op.ID{7}
	r, err := s.Write(ctx, Author{Actor: "registrar", Scope: "harbour"},
		op.Group{ID: animal, Kind: "animal", Acts: []op.Act{op.Set("catalogue_no", op.Text("H 2026.1.1"))}})
	fmt.Println(r.LSN, r.Effect, err)
	st, err := s.Record(ctx, animal)
	fmt.Println(st.Value("catalogue_no"), err)
	// Output:
	// 1 ok <nil>
	// "H 2026.1.1" <nil>
}
