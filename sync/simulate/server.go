package simulate

import (
	"bytes"
	"context"
	"errors"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/seal"
)

var ctx = context.Background()

// server is the real log behind the real messages, in one life after another.
type server struct {
	log     *oplog.Memory
	life    byte
	copied  *oplog.Memory // the last copy that was made; nil: none
	restore []uint64      // of each earlier life, how many places the next began with
	mistake Mistake
	now     func() time.Time
}

var (
	cursorKey = []byte("a key of 32 bytes for the cursors")
	scope     = "harbour"
)

func newServer(now func() time.Time, m Mistake) *server {
	return &server{log: oplog.NewMemory(now, judge), mistake: m, now: now}
}

// judge lets some operations have no effect, and some be looked at.
func judge(o op.Op) oplog.Ruling {
	switch {
	case o.Seq%13 == 0:
		return oplog.Ruling{Effect: oplog.None, Code: "refused", Why: "a person has to decide"}
	case o.Seq%7 == 0:
		return oplog.Ruling{Effect: oplog.Review, Code: "odd", Why: "a person has to look"}
	}
	return oplog.Ruling{Effect: oplog.OK}
}

// hello says where the server stands with a device.
func (s *server) hello(dev op.DeviceID) oplog.Head {
	h, err := s.log.Head(ctx, dev)
	if err != nil {
		panic(err) // memory does not fail
	}
	return h
}

// push answers the body of a push: receipts, or an error as the server says it.
func (s *server) push(body []byte) ([]byte, error) {
	b, err := exchange.ReadPush(bytes.NewReader(body), exchange.Usual)
	if err != nil {
		return nil, err
	}
	if s.mistake == RepeatsAnew {
		if h, err := s.log.Head(ctx, b.Dev); err == nil && b.First <= h.Seq {
			b.Dev[15]++ // stands for a second row of the same operation
			b.First, b.Before = 1, op.Genesis(b.Dev)
			b.After = b.Before
			for _, w := range b.Ops {
				b.After = op.Next(b.After, w)
			}
		}
	}
	receipts, err := s.log.Append(ctx, b)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := exchange.WriteResults(&out, receipts); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func (s *server) cursor(lsn uint64) exchange.Cursor {
	return exchange.Cursor{Server: [16]byte{1}, Incarnation: [16]byte{s.life}, LSN: lsn, Scope: exchange.ScopeHash(scope)}
}

// pull answers with one page.
func (s *server) pull(text string, limit int) ([]byte, error) {
	c := s.cursor(0)
	if text != "" {
		var err error
		if c, err = exchange.OpenCursor(cursorKey, text); err != nil {
			return nil, err
		}
		if c != s.cursor(c.LSN) {
			return nil, exchange.ErrCursor
		}
	}
	entries := s.after(c.LSN, limit+1)
	more := len(entries) > limit
	entries = entries[:min(limit, len(entries))]
	c.LSN += uint64(len(entries))
	var out bytes.Buffer
	if err := exchange.WritePull(&out, exchange.Page{Entries: entries, Cursor: c.Seal(cursorKey), More: more}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func (s *server) after(lsn uint64, limit int) []oplog.Entry {
	all, err := s.log.Read(ctx, lsn, limit)
	if err != nil {
		panic(err)
	}
	return all
}

func (s *server) all() []oplog.Entry { return s.after(0, 1<<30) }

// back makes a copy, restored puts it back.
func (s *server) back() { s.copied = s.log.Clone() }

func (s *server) restored() bool {
	if s.copied == nil {
		return false
	}
	s.log = s.copied.Clone()
	if s.mistake != RestoredInStealth {
		s.life++
		s.restore = append(s.restore, uint64(len(s.all())))
	}
	return true
}

// head is the head of the log's tree as it is now.
func (s *server) head() seal.Head {
	all := s.all()
	return seal.Head{Origin: seal.Origin([16]byte{1}, [16]byte{s.life}), Size: uint64(len(all)), Root: rootOf(leavesOf(all))}
}

func leavesOf(all []oplog.Entry) []tlog.Hash {
	leaves, links := make([]tlog.Hash, len(all)), map[op.DeviceID]op.Link{}
	for i, e := range all {
		before, known := links[e.Dev]
		if !known {
			before = op.Genesis(e.Dev)
		}
		hash := op.HashOf(e.Wire)
		links[e.Dev] = before.Then(hash)
		leaves[i] = seal.Receipt{Receipt: e.Receipt, Hash: hash, Link: links[e.Dev]}.Leaf()
	}
	return leaves
}

// shelf keeps tiles in memory.
type shelf map[[2]int64][]byte

// Tile implements seal.Tiles.
func (s shelf) Tile(level, n int64, width int) ([]byte, error) {
	if h := s[[2]int64{level, n}]; len(h) >= width*tlog.HashSize {
		return h, nil
	}
	return nil, errors.New("not there")
}

func treeOf(leaves []tlog.Hash) *seal.Reader {
	s := shelf{}
	tiles, err := seal.Grow(0, leaves, s)
	if err != nil {
		panic(err)
	}
	for _, t := range tiles {
		s[[2]int64{t.Level, t.N}] = t.Hashes
	}
	return &seal.Reader{Tiles: s}
}

func rootOf(leaves []tlog.Hash) tlog.Hash {
	if len(leaves) == 0 {
		return tlog.Hash{}
	}
	h, err := seal.Root(uint64(len(leaves)), treeOf(leaves))
	if err != nil {
		panic(err)
	}
	return h
}
