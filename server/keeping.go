package server

import (
	"bytes"
	"context"
	"io"
	"net/http"

	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/store"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// ledger is the store as the deciding packages see it.
type ledger struct {
	store *store.Store
	scope string
}

// Read returns entries of the log after a place.
func (l *ledger) Read(ctx context.Context, after uint64, limit int) ([]oplog.Entry, error) {
	return l.store.Read(ctx, after, limit)
}

// Record returns a record as folded.
func (l *ledger) Record(ctx context.Context, id op.ID) (merge.State, error) {
	return l.store.Record(ctx, id)
}

// State is Record, with an empty record where there is none.
func (l *ledger) State(ctx context.Context, id op.ID) (merge.State, error) {
	return emptyIfMissing(l.store.Record(ctx, id))
}

func emptyIfMissing(s merge.State, err error) (merge.State, error) {
	if fault.Is(err, fault.Missing) {
		return merge.State{}, nil
	}
	return s, err
}

// page is how many entries are read at a time.
const page = 500

// writeIf lets decide look and writes what it wants, as one operation of the
// server's own device in the person's name. A write that was begun is waited
// for, whoever has gone meanwhile, so that the next decision sees it.
func (l *ledger) writeIf(ctx context.Context, person string, decide func(read func(op.ID) (merge.State, error)) ([]op.Group, error)) error {
	_, err := l.store.WriteIf(context.WithoutCancel(ctx), store.Author{Actor: person, Scope: l.scope}, func(tx *store.Tx) ([]op.Group, error) {
		return decide(func(id op.ID) (merge.State, error) { return emptyIfMissing(tx.Record(id)) })
	})
	return err
}

// deskWriter and intakeWriter are the ledger under the words of catalogue and
// of intake.
type deskWriter struct{ *ledger }

func (w deskWriter) WriteIf(ctx context.Context, by catalogue.Hand, decide func(catalogue.Read) ([]op.Group, error)) error {
	return w.writeIf(ctx, by.Person, func(read func(op.ID) (merge.State, error)) ([]op.Group, error) { return decide(read) })
}

type intakeWriter struct{ *ledger }

func (w intakeWriter) WriteIf(ctx context.Context, by intake.Hand, decide func(intake.Read) ([]op.Group, error)) error {
	return w.writeIf(ctx, by.Person, func(read func(op.ID) (merge.State, error)) ([]op.Group, error) { return decide(read) })
}

func (w intakeWriter) WriteAll(ctx context.Context, by intake.Hand, saves [][]op.Group) (first, last uint64, err error) {
	err = w.store.Within(context.WithoutCancel(ctx), func(tx *store.Tx) error {
		first = 0
		for _, groups := range saves {
			r, err := tx.Write(store.Author{Actor: by.Person, Scope: w.scope}, groups...)
			if err != nil {
				return err
			}
			if first == 0 {
				first = r.LSN
			}
			last = r.LSN
		}
		return nil
	})
	return first, last, err
}

// shelves is the store's drawers as people and answers are kept in them.
type shelves struct{ store *store.Store }

// Read returns the paper of that name, or nil.
func (s shelves) Read(ctx context.Context, shelf, name string) ([]byte, error) {
	it, err := s.store.Get(ctx, shelf, name)
	if fault.Is(err, fault.Missing) {
		return nil, nil
	}
	return it.Value, err
}

// Change edits a paper in one step.
func (s shelves) Change(ctx context.Context, shelf, name string, edit func([]byte) ([]byte, error)) error {
	return s.store.Within(ctx, func(tx *store.Tx) error {
		it, err := tx.Get(shelf, name)
		if err != nil && !fault.Is(err, fault.Missing) {
			return err
		}
		next, err := edit(it.Value)
		if err != nil {
			return err
		}
		_, err = tx.Put(shelf, name, next, store.Any)
		return err
	})
}

// List returns every paper of a shelf.
func (s shelves) List(ctx context.Context, shelf string) (map[string][]byte, error) {
	out := map[string][]byte{}
	err := s.store.List(ctx, shelf, "", func(it store.Item) error {
		out[it.Key] = it.Value
		return nil
	})
	return out, err
}

// photos is the store's bytes as pictures.
type photos struct{ store *store.Store }

// PutPhoto keeps the bytes; a part that came earlier is completed.
func (p photos) PutPhoto(ctx context.Context, sha256, _ string, body []byte) error {
	sum, err := store.ParseSum(sha256)
	if err != nil {
		return err
	}
	have, whole, err := p.store.BlobOffset(sum)
	if err != nil || whole {
		return err
	}
	have = min(have, int64(len(body)))
	_, err = p.store.PutBlob(ctx, sum, have, int64(len(body)), bytes.NewReader(body[have:]))
	return err
}

// Photo returns the bytes and what they are, nil if they have not come.
func (p photos) Photo(_ context.Context, sha256 string) ([]byte, string, error) {
	sum, err := store.ParseSum(sha256)
	if err != nil {
		return nil, "", nil
	}
	f, _, err := p.store.Blob(sum)
	if fault.Is(err, fault.Missing) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	body, err := io.ReadAll(f)
	return body, http.DetectContentType(body), err
}
