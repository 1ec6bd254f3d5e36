package store

import (
	"context"
	"encoding/binary"

	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// followStep is how many operations one transaction of a follower takes.
const followStep = 50

// followSpace is the drawer in which followers keep how far they have come.
const followSpace = "follow"

// Follower is told of every operation once, in the order of the log, and may
// write: what it writes and how far it has come are one commit. It is not told
// of what is unreadable. An error stops it before that operation.
type Follower func(tx *Tx, o op.Op, r oplog.Receipt) error

// CatchUp tells the follower of that name everything it has not been told,
// what it writes itself included, and returns how many operations that was.
// One name must not catch up twice at once.
func (s *Store) CatchUp(ctx context.Context, name string, f Follower) (n int, err error) {
	for {
		if err := ctx.Err(); err != nil {
			return n, err
		}
		step, err := s.followOn(ctx, name, f)
		if n += step; err != nil || step == 0 {
			return n, err
		}
	}
}

// Follow catches up, and again at every commit, until ctx ends or f fails.
func (s *Store) Follow(ctx context.Context, name string, f Follower) error {
	for {
		if _, err := s.CatchUp(ctx, name, f); err != nil {
			return err
		}
		at, err := s.followed(ctx, name)
		if err != nil {
			return err
		}
		if err := s.Wait(ctx, at); err != nil {
			return err
		}
	}
}

func (s *Store) followed(ctx context.Context, name string) (uint64, error) {
	it, err := s.Get(ctx, followSpace, name)
	if err != nil && !fault.Is(err, fault.Missing) {
		return 0, err
	}
	return placeIn(it), nil
}

func placeIn(it Item) uint64 {
	if len(it.Value) != 8 {
		return 0
	}
	return binary.BigEndian.Uint64(it.Value)
}

func (s *Store) followOn(ctx context.Context, name string, f Follower) (n int, err error) {
	at, err := s.followed(ctx, name)
	if err != nil || s.Last() <= at {
		return 0, err
	}
	entries, err := s.Read(ctx, at, followStep)
	if err != nil || len(entries) == 0 {
		return 0, err
	}
	var stop error // of f, after what it did before is kept
	err = s.Within(ctx, func(tx *Tx) error {
		n, stop = 0, nil
		for _, e := range entries {
			if stop = tell(tx, f, e); stop != nil {
				break
			}
			at = e.LSN
			n++
		}
		if n == 0 {
			return stop
		}
		_, err := tx.Put(followSpace, name, binary.BigEndian.AppendUint64(nil, at), Any)
		return err
	})
	if err != nil {
		return 0, err
	}
	return n, stop
}

// tell undoes what f wrote if it fails.
func tell(tx *Tx, f Follower, e oplog.Entry) error {
	o, err := op.Decode(e.Wire)
	if err != nil || e.Code == oplog.CodeUnreadable {
		return nil
	}
	w := tx.w
	if _, err := w.c.exec("SAVEPOINT told"); err != nil {
		return err
	}
	err = f(tx, o, e.Receipt)
	if err != nil {
		if _, e := w.c.exec("ROLLBACK TO told"); e != nil {
			return e
		}
		if e := w.forget(); e != nil {
			return e
		}
	}
	if _, e := w.c.exec("RELEASE told"); e != nil {
		return e
	}
	return err
}
