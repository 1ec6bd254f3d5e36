package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"os"

	"golang.org/x/mod/sumdb/tlog"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/seal"
)

// Account is what a look at a whole store found.
type Account struct {
	Operations uint64
	SetAside   uint64 // of devices that told two stories
	Devices    int
	Records    int
	Photos     int
	Absent     []Sum  // photos that operations name and that are not here
	Heads      int    // signed heads, each checked
	Newest     Sealed // empty before the first
}

// Unsealed is how many receipts stand behind the newest signed head: of those
// only the operation is proved, not what the server said to it.
func (a Account) Unsealed() uint64 { return a.Operations - a.Newest.Size }

// Damage is the first thing in a store that is not as it was written.
type Damage struct{ What string }

// Error returns the sentence.
func (d *Damage) Error() string { return d.What }

func damaged(format string, args ...any) error { return &Damage{fmt.Sprintf(format, args...)} }

// Verify looks at everything the store holds; see VerifyFile.
func (s *Store) Verify(ctx context.Context) error {
	return s.snapshot(ctx, func(c *conn) error {
		_, err := check(ctx, c, Look{Photos: s.blobs})
		return err
	})
}

// Look says how to look at a store.
type Look struct {
	Photos string                // folder of the photos; "" is the store's own
	Kept   []string              // signed heads that others kept, to hold the log against
	Step   func(done, of uint64) // hears how far it has come; may be nil
}

// VerifyFile looks at everything that the store at the path holds, whether a
// server is running on it or not: every operation, chain, receipt, head,
// record and photo. It writes nothing. A *Damage names the first thing that is
// not as it was written.
func VerifyFile(ctx context.Context, path string, l Look) (a Account, err error) {
	if _, err := os.Stat(path); err != nil && !isURL(path) {
		return a, err
	}
	if l.Photos == "" && !isURL(path) {
		l.Photos = path + ".blobs"
	}
	c, err := connect(path, true)
	if err != nil {
		return a, err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	if _, err := c.exec(c.beginRead); err != nil {
		return a, damaged("the file is no store: %v", err)
	}
	return check(ctx, c, l)
}

type checker struct {
	Account
	ctx    context.Context
	c      *conn
	look   Look
	sealed seal.Reader          // the leaves as they were kept
	grown  grove                // the tree as the receipts make it
	leaves []tlog.Hash          // not grown yet
	ends   map[int64]*streamEnd // by number of the device
	touch  map[recordKey]recordEnd
	named  map[Sum]bool
	seed   []byte
}

type streamEnd struct {
	id   op.DeviceID
	seq  uint64
	link op.Link
}

type recordKey struct {
	id   op.ID
	kind string
}

// recordEnd stands for the places of all operations on a record.
type recordEnd struct{ sum [sha256.Size]byte }

func (e recordEnd) then(lsn uint64) recordEnd {
	return recordEnd{sha256.Sum256(binary.BigEndian.AppendUint64(e.sum[:], lsn))}
}

func check(ctx context.Context, c *conn, l Look) (Account, error) {
	k := &checker{ctx: ctx, c: c, look: l, sealed: seal.Reader{Tiles: tiles{c}}, grown: grove{},
		ends: map[int64]*streamEnd{}, touch: map[recordKey]recordEnd{}, named: map[Sum]bool{}}
	for _, part := range []func() error{k.file, k.devices, k.newest, k.log, k.heads, k.tree, k.kept, k.records, k.aside, k.photos} {
		if err := part(); err != nil {
			return k.Account, blame(err)
		}
	}
	return k.Account, nil
}

// blame makes damage of what SQLite cannot read.
func blame(err error) error {
	var d *Damage
	if errors.As(err, &d) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return damaged("the store cannot be read: %v", err)
}

// file has SQLite look at its own pages and indexes.
func (k *checker) file() error {
	if !k.c.lite {
		return nil // PostgreSQL has tools of its own for its pages
	}
	verdict := ""
	if _, err := k.c.one("PRAGMA integrity_check(1)", func(r row) { verdict = r.text(0) }); err != nil {
		return err
	}
	if verdict != "ok" {
		return damaged("the database file is damaged: %s", verdict)
	}
	return nil
}

func (k *checker) devices() error {
	return k.c.query("SELECT n, id FROM device", func(r row) error {
		id := r.bytes(1)
		if len(id) != len(op.DeviceID{}) {
			return damaged("device number %d has an id of %d bytes", r.int(0), len(id))
		}
		k.ends[r.int(0)] = &streamEnd{id: op.DeviceID(id), link: op.Genesis(op.DeviceID(id))}
		k.Devices++
		return nil
	})
}

func (k *checker) newest() (err error) {
	if k.Newest.Size, k.Newest.Head, err = lastHead(k.c); err != nil || k.Newest.Head == "" {
		return err
	}
	if k.seed, err = keyOf(k.c); err != nil {
		return damaged("%v", err)
	}
	k.Newest.Key, err = seal.Key(seal.OriginOf(k.Newest.Head), k.seed)
	return err
}

// log goes through every operation in order.
func (k *checker) log() error {
	total := uint64(0)
	if _, err := k.c.one("SELECT coalesce(max(lsn), 0) FROM op", func(r row) { total = uint64(r.int(0)) }); err != nil {
		return err
	}
	received := int64(0)
	err := k.c.query(`SELECT d.id, o.seq, o.lsn, o.received, o.eff, o.effect, o.code, o.why, o.hash, o.link, o.wire, o.dev,
		coalesce(w.text, '') FROM op o LEFT JOIN device d ON d.n = o.dev LEFT JOIN word w ON w.n = o.scope ORDER BY o.lsn`, func(r row) error {
		k.Operations++
		if place := uint64(r.int(2)); place != k.Operations {
			return damaged("place %d of the log is missing", k.Operations)
		}
		if k.ends[r.int(11)] == nil || len(r.bytes(8)) != sha256.Size || len(r.bytes(9)) != sha256.Size {
			return damaged("place %d of the log is of no device, or without its sums", k.Operations)
		}
		if e := r.int(5); e != int64(uint8(e)) {
			return damaged("place %d of the log has an effect of number %d", k.Operations, e)
		}
		if r.int(3) < received {
			return damaged("place %d of the log was received before the one above it", k.Operations)
		}
		received = r.int(3)
		if err := k.operation(sealedReceiptOf(r), k.ends[r.int(11)], r.bytes(10), r.text(12)); err != nil {
			return err
		}
		if k.look.Step != nil && k.Operations%1000 == 0 {
			k.look.Step(k.Operations, total)
		}
		return k.ctx.Err()
	})
	if err == nil && k.Operations < k.Newest.Size {
		err = damaged("the log ends at place %d; the newest head was signed at %d", k.Operations, k.Newest.Size)
	}
	return err
}

func (k *checker) operation(x seal.Receipt, e *streamEnd, wire []byte, scope string) error {
	hash := op.HashOf(wire)
	e.seq++
	e.link = e.link.Then(hash)
	if e.seq != x.Seq || hash != x.Hash || e.link != x.Link {
		return damaged("place %d of the log, operation %d of device %v, is not as it was written", x.LSN, e.seq, e.id)
	}
	if err := k.leaf(x); err != nil {
		return err
	}
	if x.Code == oplog.CodeUnreadable {
		return nil
	}
	o, err := op.Decode(wire)
	if err != nil {
		return damaged("place %d of the log cannot be read: %v", x.LSN, err)
	}
	if o.Scope != scope {
		return damaged("place %d of the log is filed under %q, not under %q", x.LSN, scope, o.Scope)
	}
	for i := range o.On {
		key := recordKey{o.On[i].ID, o.On[i].Kind}
		k.touch[key] = k.touch[key].then(x.LSN)
		k.names(o.On[i].Acts)
	}
	return nil
}

// leaf holds a receipt against the leaf that was kept when it was sealed.
func (k *checker) leaf(x seal.Receipt) error {
	if x.LSN > k.Newest.Size {
		return nil
	}
	leaf := x.Leaf()
	was, err := k.sealed.ReadHashes([]int64{tlog.StoredHashIndex(0, int64(x.LSN)-1)})
	if err != nil {
		return damaged("place %d of the log: %v", x.LSN, err)
	}
	if was[0] != leaf {
		return damaged("place %d of the log: the receipt is not the one that was sealed", x.LSN)
	}
	k.leaves = append(k.leaves, leaf)
	if len(k.leaves) == sealStep || x.LSN == k.Newest.Size {
		return k.grow(x.LSN)
	}
	return nil
}

func (k *checker) grow(upto uint64) error {
	fresh, err := seal.Grow(upto-uint64(len(k.leaves)), k.leaves, k.grown)
	for _, t := range fresh {
		k.grown[[2]int64{t.Level, t.N}] = t.Hashes
	}
	k.leaves = k.leaves[:0]
	return err
}

// grove is a tree in memory.
type grove map[[2]int64][]byte

// Tile implements seal.Tiles.
func (g grove) Tile(level, n int64, width int) ([]byte, error) {
	h := g[[2]int64{level, n}]
	if len(h) < width*tlog.HashSize {
		return nil, fmt.Errorf("tile %d of level %d was not grown", n, level)
	}
	return h, nil
}

// heads checks the signature, the size and the root of every signed head.
func (k *checker) heads() error {
	last := uint64(0)
	return k.c.query("SELECT size, signed FROM head ORDER BY n", func(r row) error {
		k.Heads++
		h, err := k.head(r.text(1))
		if err != nil {
			return damaged("signed head %d: %v", k.Heads, err)
		}
		if size := uint64(r.int(0)); h.Size != size || size <= last {
			return damaged("signed head %d speaks of %d places, not of %d", k.Heads, h.Size, size)
		}
		last = h.Size
		return k.ctx.Err()
	})
}

// head reads a signed head and holds it against the log.
func (k *checker) head(signed string) (h seal.Head, err error) {
	key, err := seal.Key(seal.OriginOf(signed), k.seed)
	if err != nil {
		return h, err
	}
	if h, err = seal.Open(signed, key); err != nil {
		return h, err
	}
	if h.Size > k.Newest.Size {
		return h, fmt.Errorf("it was signed at place %d; the log here is sealed up to %d", h.Size, k.Newest.Size)
	}
	root, err := seal.Root(h.Size, &seal.Reader{Tiles: k.grown})
	if err == nil && root != h.Root {
		err = fmt.Errorf("the log up to place %d is not the one that was signed", h.Size)
	}
	return h, err
}

// kept holds the log against heads that others kept.
func (k *checker) kept() error {
	for _, signed := range k.look.Kept {
		if k.seed == nil {
			return damaged("a head was handed in, and this store never signed one")
		}
		if _, err := k.head(signed); err != nil {
			return damaged("the head that was kept: %v", err)
		}
	}
	return nil
}

// tree holds every kept tile against the one the receipts make.
func (k *checker) tree() error {
	return k.c.query("SELECT level, n, hashes FROM tile", func(r row) error {
		if have := k.grown[[2]int64{r.int(0), r.int(1)}]; !bytes.Equal(have, r.bytes(2)) {
			return damaged("tile %d of level %d of the log's tree is not what the receipts make", r.int(1), r.int(0))
		}
		return nil
	})
}
