package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"sync"
	"time"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/reports"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// mark is a place in the log with the head of the log there: head(0) is
// SHA-256("wayfall log v1"), head(n) is SHA-256(head(n-1) ‖ SHA-256(entry n)),
// over every entry, whatever its effect.
type mark struct {
	lsn  uint64
	ms   int64
	head [32]byte
}

func (m mark) place() catalogue.Place {
	return catalogue.Place{LSN: m.lsn, AtMS: m.ms, Head: hex.EncodeToString(m.head[:])}
}

func (m mark) next(e *oplog.Entry) mark {
	wire := sha256.Sum256(e.Wire)
	return mark{e.LSN, e.Received, sha256.Sum256(append(m.head[:], wire[:]...))}
}

var first = mark{head: sha256.Sum256([]byte("wayfall log v1"))}

// reading is the log as a Book catches up with it. It keeps the head of the
// log at the place that was reached and at the one before, so that a step that
// failed can be taken again.
type reading struct {
	*ledger
	upto uint64                                    // 0: to the end
	seen func(context.Context, *oplog.Entry) error // may be nil

	was, now mark
}

func (r *reading) at(lsn uint64) (mark, error) {
	switch lsn {
	case 0:
		return first, nil
	case r.now.lsn:
		return r.now, nil
	case r.was.lsn:
		return r.was, nil
	}
	return mark{}, fault.New(fault.Internal, "the log is read on from %d, which is neither %d nor %d", lsn, r.was.lsn, r.now.lsn)
}

// Touched implements catalogue.Log. A Book asks for one step at a time.
func (r *reading) Touched(ctx context.Context, after uint64) (ids []op.ID, reached catalogue.Place, more bool, err error) {
	m, err := r.at(after)
	if err != nil {
		return nil, catalogue.Place{}, false, err
	}
	limit := page
	if r.upto > 0 {
		limit = int(min(uint64(page), r.upto-min(r.upto, after)))
	}
	if limit == 0 {
		return nil, m.place(), false, nil
	}
	entries, err := r.store.Read(ctx, after, limit)
	if err != nil {
		return nil, catalogue.Place{}, false, err
	}
	begun := m
	for i := range entries {
		e := &entries[i]
		if r.upto > 0 && e.LSN > r.upto {
			entries = entries[:i]
			break
		}
		m = m.next(e)
		if r.seen != nil {
			if err := r.seen(ctx, e); err != nil {
				return nil, catalogue.Place{}, false, err
			}
		}
		ids = append(ids, touchedBy(e)...)
	}
	r.was, r.now = begun, m
	return ids, m.place(), len(entries) == limit && limit == page, nil
}

func touchedBy(e *oplog.Entry) (ids []op.ID) {
	if !e.Effect.Folded() {
		return nil
	}
	if o, err := op.Decode(e.Wire); err == nil {
		for _, g := range o.On {
			ids = append(ids, g.ID)
		}
	}
	return ids
}

// then is the log as it stood at an earlier place: State folds no further, and
// so a record that was touched once need not be told of again.
type then struct {
	reading
	told map[op.ID]bool
}

// Touched implements catalogue.Log.
func (t *then) Touched(ctx context.Context, after uint64) (ids []op.ID, reached catalogue.Place, more bool, err error) {
	ids, reached, more, err = t.reading.Touched(ctx, after)
	ids = slices.DeleteFunc(ids, func(id op.ID) bool {
		old := t.told[id]
		t.told[id] = true
		return old
	})
	return ids, reached, more, err
}

// State implements catalogue.Log.
func (t *then) State(ctx context.Context, id op.ID) (merge.State, error) {
	s, err := t.store.RecordAt(ctx, id, t.upto)
	if s.Empty() {
		return merge.State{}, err
	}
	return s, err
}

// earlier is a Book and an Office of one place in the log. They never change.
type earlier struct {
	lsn    uint64
	book   *catalogue.Book
	office *reports.Office
	day    permits.Date // at the institution, when the last entry came in
}

// past keeps the two earlier places that were asked for last: making one reads
// the log from its beginning.
type past struct {
	mu   sync.Mutex
	kept []*earlier
}

// place reads a place of the log, or the last one received up to a moment.
func (s *Server) place(ctx context.Context, text string) (uint64, error) {
	wrong := fault.New(fault.Invalid, "as_of is a place in the log, such as 1200, or a moment that has passed, such as 2026-01-31T12:00:00Z").At("/as_of", text)
	last := s.store.Last()
	if n, ok := number(text); ok {
		if n == 0 || n > last {
			return 0, fault.New(fault.Invalid, "the log has the places 1 to %d", last).At("/as_of", text)
		}
		return n, nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil || at.UnixMilli() >= s.cfg.Now().UnixMilli() {
		return 0, wrong
	}
	n, err := s.store.LastBefore(ctx, at.UnixMilli()+1)
	if err == nil && n == 0 {
		err = fault.New(fault.Missing, "nothing had been received by then")
	}
	return n, err
}

func number(text string) (n uint64, ok bool) {
	if text == "" || len(text) > 18 {
		return 0, false
	}
	for _, c := range []byte(text) {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + uint64(c-'0')
	}
	return n, true
}

// asOf returns the Book and the Office of an earlier place.
func (s *Server) asOf(ctx context.Context, lsn uint64) (*earlier, error) {
	s.past.mu.Lock()
	defer s.past.mu.Unlock()
	if i := slices.IndexFunc(s.past.kept, func(e *earlier) bool { return e.lsn == lsn }); i >= 0 {
		return s.past.kept[i], nil
	}
	lent := &lender{s: s, wins: map[string]escrow.Number{}}
	log := &then{reading: reading{ledger: s.log, upto: lsn}, told: map[op.ID]bool{}}
	log.seen = lent.hear
	e := &earlier{lsn: lsn, book: catalogue.Open(log, s.around)}
	at, err := e.book.Place(ctx)
	if err != nil {
		return nil, err
	}
	local := time.UnixMilli(at.AtMS).In(s.cfg.Zone)
	e.day = permits.NewDate(local.Year(), int(local.Month()), local.Day())
	e.office = &reports.Office{Book: e.book, Names: s.office.Names, Zone: s.cfg.Zone, Lent: func(authority, quota, taxon string) int { return lent.out(authority, quota, taxon, e.day) }}
	s.past.kept = append(s.past.kept, e)
	if len(s.past.kept) > 2 {
		s.past.kept = slices.Delete(s.past.kept, 0, 1)
	}
	return e, nil
}

// hear takes in what an entry tells of shares.
func (l *lender) hear(ctx context.Context, e *oplog.Entry) error {
	if !slices.ContainsFunc(telling, func(name []byte) bool { return bytes.Contains(e.Wire, name) }) {
		return nil
	}
	return l.read(ctx, e)
}

// out is what of a number was with phones or burned with them on a day, as far
// as the lender has heard.
func (l *lender) out(authority, quota, taxon string, day permits.Date) int {
	n := escrow.Number{Authority: authority, Quota: quota, Taxon: taxon, From: day, To: day}
	if !slices.ContainsFunc(l.facts, func(f fact) bool { return same(f.number, n) }) {
		return 0
	}
	ledger := l.fold(n, 0, 0, nil)
	all := ledger.Sums()
	return all.Lent + all.Burned
}
