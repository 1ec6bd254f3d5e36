package server

import (
	"context"
	"encoding/hex"
	"time"

	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/store"
	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// exchanger is the log as devices see it.
type exchanger struct {
	store  *store.Store
	people *people.Book
	crew   *crew
	screen *screener
	scope  string
	key    []byte // seals cursors
	now    func() time.Time
}

// mine lets a person speak for a device that is theirs.
func (x *exchanger) mine(ctx context.Context, who people.Proof, dev op.DeviceID) error {
	d, enrolled, err := x.people.Device(ctx, dev.String())
	switch {
	case err != nil:
		return err
	case !enrolled:
		return fault.New(fault.Denied, "this device is not enrolled; sign in on it with a code first")
	case d.Person != who.Person.ID:
		return fault.New(fault.Denied, "this device belongs to somebody else")
	}
	return nil
}

// Hello implements api.Sync.
func (x *exchanger) Hello(ctx context.Context, who people.Proof, h exchange.Hello) (exchange.Welcome, error) {
	if err := x.mine(ctx, who, h.Dev); err != nil {
		return exchange.Welcome{}, err
	}
	head, err := x.store.Head(ctx, h.Dev)
	if err != nil {
		return exchange.Welcome{}, err
	}
	backed, err := x.store.BackedUp(ctx)
	if err != nil {
		return exchange.Welcome{}, err
	}
	id := x.store.Identity()
	out := exchange.Welcome{Server: hex.EncodeToString(id.Server[:]), Incarnation: hex.EncodeToString(id.Incarnation[:]),
		ExpectedSeq: head.Seq + 1, Head: head.Link, Now: x.now().UnixMilli(), Echo: h.Now, BackedUpLSN: backed, Frozen: head.Frozen}
	if h.Cursor != "" {
		_, err := x.open(h.Cursor)
		out.Bootstrap = err != nil
	}
	return out, nil
}

// Push implements api.Sync. The batch is durable when it is answered; what it
// says is held against the rules afterwards.
func (x *exchanger) Push(ctx context.Context, who people.Proof, b oplog.Batch) ([]oplog.Receipt, error) {
	if err := x.mine(ctx, who, b.Dev); err != nil {
		return nil, err
	}
	if err := x.crew.refresh(ctx); err != nil {
		return nil, err
	}
	receipts, err := x.store.Push(ctx, b)
	if err != nil {
		return nil, err
	}
	x.screen.pushed()
	return receipts, nil
}

// pageBytes bounds one page of a pull.
const pageBytes = 512 << 10

// Pull implements api.Sync.
func (x *exchanger) Pull(ctx context.Context, _ people.Proof, cursor string, limit int) (exchange.Page, error) {
	c := x.cursor(0)
	if cursor != "" {
		var err error
		if c, err = x.open(cursor); err != nil {
			return exchange.Page{}, err
		}
	}
	entries, more, err := x.store.Pull(ctx, x.scope, c.LSN, limit, pageBytes)
	if err != nil {
		return exchange.Page{}, err
	}
	if len(entries) > 0 {
		c.LSN = entries[len(entries)-1].LSN
	}
	return exchange.Page{Entries: entries, Cursor: c.Seal(x.key), More: more}, nil
}

func (x *exchanger) cursor(lsn uint64) exchange.Cursor {
	id := x.store.Identity()
	return exchange.Cursor{Server: id.Server, Incarnation: id.Incarnation, LSN: lsn, Scope: exchange.ScopeHash(x.scope)}
}

// open reads a cursor of this server, this life and this scope.
func (x *exchanger) open(text string) (exchange.Cursor, error) {
	c, err := exchange.OpenCursor(x.key, text)
	if err == nil && c != x.cursor(c.LSN) {
		err = exchange.ErrCursor
	}
	return c, err
}
