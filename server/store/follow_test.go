package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
	"wayfall/sync/record"
)

// answers is a follower that answers every phone's save with a verdict.
func answers(s *Store, told *[]uint64) Follower {
	return func(tx *Tx, o op.Op, r oplog.Receipt) error {
		*told = append(*told, r.LSN)
		if o.Dev == s.Identity().Device {
			return nil
		}
		_, err := tx.Write(Author{"rules", o.Scope}, op.Group{ID: o.On[0].ID, Kind: "report",
			Acts: []op.Act{op.Event("verdicts", op.Text(fmt.Sprint("on ", r.LSN)))}})
		return err
	}
}

func TestAFollowerIsToldOfEveryOperationOnce(t *testing.T) {
	path := newPath(t, "w.db")
	s, err := openPath(path, options())
	if err != nil {
		t.Fatal(err)
	}
	p := oplogtest.NewPhone(1)
	var told []uint64
	push(t, s, p.Saves(t, 70))
	if n, err := s.CatchUp(ctx, "verdicts", answers(s, &told)); err != nil || n != 140 {
		t.Errorf("got %d (%v), want the 70 saves and the 70 answers", n, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openAt(t, path, options())
	push(t, s, p.Saves(t, 3))
	if n, err := s.CatchUp(ctx, "verdicts", answers(s, &told)); err != nil || n != 6 {
		t.Errorf("after reopening: got %d (%v), want 6", n, err)
	}
	if !slices.IsSorted(told) || len(slices.Compact(slices.Clone(told))) != 146 {
		t.Errorf("got %d operations told, want 146 once each and in order", len(told))
	}
	st, err := s.Record(ctx, op.ID{1, 1})
	if err != nil || st.Kind != record.Report || len(st.Field("verdicts").Events) != 73 {
		t.Errorf("got %d verdicts (%v), want 73", len(st.Field("verdicts").Events), err)
	}
	verify(t, s)
}

func TestAFollowerThatFailsGoesOnWhereItStopped(t *testing.T) {
	s := openNew(t)
	push(t, s, oplogtest.NewPhone(1).Saves(t, 10))
	var told []uint64
	fails := true
	f := func(tx *Tx, o op.Op, r oplog.Receipt) error {
		if err := answers(s, &told)(tx, o, r); err != nil {
			return err
		}
		if r.LSN == 6 && fails {
			return errors.New("not now")
		}
		return nil
	}
	if n, err := s.CatchUp(ctx, "verdicts", f); err == nil || n != 5 || s.Last() != 15 {
		t.Errorf("got %d told and %d in the log (%v), want 5 and 15: the sixth answer undone", n, s.Last(), err)
	}
	fails = false
	if _, err := s.CatchUp(ctx, "verdicts", f); err != nil || s.Last() != 20 {
		t.Errorf("got %d in the log (%v), want 20", s.Last(), err)
	}
	verify(t, s)
}

func TestFollowGoesOnAtEveryCommit(t *testing.T) {
	s := openNew(t)
	live, stop := context.WithCancel(ctx)
	heard := make(chan uint64, 10)
	done := make(chan error, 1)
	go func() {
		done <- s.Follow(live, "ears", func(_ *Tx, o op.Op, r oplog.Receipt) error { heard <- r.LSN; return nil })
	}()
	p := oplogtest.NewPhone(1)
	for want := uint64(1); want <= 3; want++ {
		push(t, s, p.Saves(t, 1))
		if got := <-heard; got != want {
			t.Errorf("heard of place %d, want %d", got, want)
		}
	}
	stop()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want cancelled", err)
	}
}

// What is acknowledged is on disk only under these settings.
func TestTheDatabaseIsSetToBeDurable(t *testing.T) {
	path := newPath(t, "w.db")
	openAt(t, path, options())
	for _, readOnly := range []bool{false, true} {
		c, err := connect(path, readOnly)
		if err != nil {
			t.Fatal(err)
		}
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1",
			"page_size": fmt.Sprint(pageSize), "query_only": map[bool]string{false: "0", true: "1"}[readOnly]} {
			if _, err := c.one("PRAGMA "+pragma, func(r row) {
				if got := fmt.Sprint(r[0]); got != want {
					t.Errorf("read-only %v: %s is %s, want %s", readOnly, pragma, got, want)
				}
			}); err != nil {
				t.Error(err)
			}
		}
		if err := c.close(); err != nil {
			t.Error(err)
		}
	}
}
