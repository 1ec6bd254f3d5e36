package demo

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"net/http"
	"time"

	"wayfall/permits/escrow"
	"wayfall/sync/clock"
	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Phone is a device as the server sees one: an id, a gapless sequence of
// operations, a chain and an outbox. It keeps everything in memory.
type Phone struct {
	Client *Client
	Dev    op.DeviceID
	Actor  string
	Scope  string
	Tags   string // the prefix of its bag tags

	seq    uint64
	stamp  clock.Stamp
	before op.Link // before the first operation of the outbox
	head   op.Link
	outbox [][]byte
	kept   [][]byte // every operation ever saved
	tagged uint
	purse  escrow.Purse
	papers map[string]op.ID // of which it was lent shares, and their records
}

// NewPhone returns a phone that has saved nothing yet.
func NewPhone(c *Client, dev op.DeviceID, actor, scope, tags string) *Phone {
	start := op.Genesis(dev)
	return &Phone{Client: c, Dev: dev, Actor: actor, Scope: scope, Tags: tags, before: start, head: start, papers: map[string]op.ID{}}
}

// Save makes one operation of what was done at the time, puts it into the
// outbox, and returns it.
func (p *Phone) Save(at time.Time, groups ...op.Group) (op.Op, error) {
	next := p.stamp.Next(at)
	o := op.Op{
		Dev: p.Dev, Seq: p.seq + 1, HLC: next, Actor: p.Actor, Scope: p.Scope, Schema: 1,
		Wall: op.Wall{Millis: at.UnixMilli(), Zone: at.Format("-07:00"), Source: "device"},
		On:   groups,
	}
	wire, err := o.Encode()
	if err != nil {
		return op.Op{}, fmt.Errorf("save on %s: %w", p.Actor, err)
	}
	p.seq, p.stamp, p.head = o.Seq, next, op.Next(p.head, wire)
	p.outbox, p.kept = append(p.outbox, wire), append(p.kept, wire)
	return o, nil
}

// Unsent returns how many operations wait in the outbox.
func (p *Phone) Unsent() int { return len(p.outbox) }

// Meet says hello, and puts everything into the outbox that the server says it
// does not have: after the server was put back from a copy, what came later.
func (p *Phone) Meet(ctx context.Context) error {
	var w exchange.Welcome
	h := exchange.Hello{Dev: p.Dev, NextSeq: p.seq + 1, Head: p.head, Schema: 1}
	if err := p.Client.Do(ctx, http.MethodPost, "/v1/sync/hello", h, &w); err != nil {
		return err
	}
	if w.ExpectedSeq == 0 || w.ExpectedSeq > p.seq+1 {
		return fmt.Errorf("the server expects operation %d of a phone that saved %d", w.ExpectedSeq, p.seq)
	}
	p.before = op.Genesis(p.Dev)
	for _, wire := range p.kept[:w.ExpectedSeq-1] {
		p.before = op.Next(p.before, wire)
	}
	p.outbox = p.kept[w.ExpectedSeq-1:]
	return nil
}

// Body returns the outbox as the body of a push, not compressed.
func (p *Phone) Body() ([]byte, error) {
	var b bytes.Buffer
	err := exchange.WritePush(&b, oplog.Batch{
		Dev: p.Dev, First: p.seq - uint64(len(p.outbox)) + 1, Before: p.before, After: p.head, Ops: p.outbox,
	})
	return b.Bytes(), err
}

// Push sends the outbox, compressed, and empties it if every operation was
// answered.
func (p *Phone) Push(ctx context.Context) ([]oplog.Receipt, error) {
	if len(p.outbox) == 0 {
		return nil, nil
	}
	body, err := p.Body()
	if err != nil {
		return nil, err
	}
	var zipped bytes.Buffer
	z := gzip.NewWriter(&zipped)
	if _, err := z.Write(body); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, p.Client.Base+"/v1/sync/push", &zipped)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Content-Type", "application/x-ndjson")
	req.Header.Set("Content-Encoding", "gzip")
	answer, err := p.Client.send(req)
	if err != nil {
		return nil, err
	}
	results, err := exchange.ReadResults(bytes.NewReader(answer), len(p.outbox))
	if err == nil {
		p.outbox, p.before = nil, p.head
	}
	return results, err
}
