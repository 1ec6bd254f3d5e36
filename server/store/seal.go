package store

import (
	"context"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/seal"
)

// sealStep is how many receipts one transaction seals.
const sealStep = 2000

// sealKey is the name under which the seed of the signing key is kept.
const sealKey = "key seal"

// Seal grows the hash tree over all receipts that are on disk and signs its
// head, once a step. It returns the newest signed head, "" if the log is empty.
// Without new receipts it changes nothing.
func (s *Store) Seal(ctx context.Context) (signed string, err error) {
	for more := true; more; {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		err := s.do(ctx, func(w *writer) (err error) {
			signed, more, err = w.seal()
			return err
		})
		if err != nil {
			return "", err
		}
	}
	return signed, nil
}

func (w *writer) seal() (signed string, more bool, err error) {
	size, signed, err := lastHead(w.c)
	if err != nil || size == w.next-1 {
		return signed, false, err
	}
	leaves, err := leavesAfter(w.c, size, sealStep)
	if err != nil {
		return "", false, err
	}
	tiles, err := seal.Grow(size, leaves, tiles{w.c})
	if err != nil {
		return "", false, err
	}
	for _, t := range tiles {
		if err := w.c.run(`INSERT INTO tile (level, n, hashes) VALUES (?, ?, ?)
			ON CONFLICT (level, n) DO UPDATE SET hashes = excluded.hashes`, t.Level, t.N, t.Hashes); err != nil {
			return "", false, err
		}
	}
	size += uint64(len(leaves))
	signed, err = w.sign(size)
	return signed, size < w.next-1, err
}

// sign signs the head of the tree of that size and keeps it.
func (w *writer) sign(size uint64) (string, error) {
	seed, err := w.meta(sealKey, 32)
	if err != nil {
		return "", err
	}
	root, err := seal.Root(size, &seal.Reader{Tiles: tiles{w.c}})
	if err != nil {
		return "", err
	}
	id := w.s.Identity()
	signed, err := seal.Head{Origin: seal.Origin(id.Server, id.Incarnation), Size: size, Root: root}.Sign(seed)
	if err != nil {
		return "", err
	}
	_, err = w.c.exec("INSERT INTO head (size, at, signed) VALUES (?, ?, ?)", size, w.now().UnixMilli(), signed)
	return signed, err
}

func lastHead(c *conn) (size uint64, signed string, err error) {
	_, err = c.one("SELECT size, signed FROM head ORDER BY n DESC LIMIT 1", func(r row) { size, signed = uint64(r.int(0)), r.text(1) })
	return size, signed, err
}

const receiptColumns = `SELECT d.id, o.seq, o.lsn, o.received, o.eff, o.effect, o.code, o.why, o.hash, o.link
	FROM op o JOIN device d ON d.n = o.dev`

func sealedReceiptOf(r row) seal.Receipt {
	return seal.Receipt{
		Receipt: oplog.Receipt{Dev: op.DeviceID(r.bytes(0)), Seq: uint64(r.int(1)), LSN: uint64(r.int(2)), Received: r.int(3),
			Eff: clock.Unpack(r.int(4)), Effect: oplog.Effect(r.int(5)), Code: r.text(6), Why: r.text(7)},
		Hash: op.Hash(r.bytes(8)), Link: op.Link(r.bytes(9)),
	}
}

func leavesAfter(c *conn, after uint64, limit int) (leaves []tlog.Hash, err error) {
	err = c.query(receiptColumns+" WHERE o.lsn > ? ORDER BY o.lsn LIMIT ?", func(r row) error {
		x := sealedReceiptOf(r)
		if want := after + uint64(len(leaves)) + 1; x.LSN != want {
			return fmt.Errorf("place %d of the log is missing", want)
		}
		leaves = append(leaves, x.Leaf())
		return nil
	}, after, limit)
	return leaves, err
}

// tiles reads kept tiles.
type tiles struct{ c *conn }

// Tile implements seal.Tiles.
func (t tiles) Tile(level, n int64, width int) (hashes []byte, err error) {
	_, err = t.c.one("SELECT hashes FROM tile WHERE level = ? AND n = ?", func(r row) { hashes = slices.Clone(r.bytes(0)) }, level, n)
	if err == nil && len(hashes) < width*tlog.HashSize {
		err = fmt.Errorf("tile %d of level %d of the log's tree is not there", n, level)
	}
	return hashes[:len(hashes)/tlog.HashSize*tlog.HashSize], err
}

// Head of the tree, signed, and what checks it.
type Sealed struct {
	Head string // signed note
	Key  string // name, number and public key
	Size uint64 // leaves
}

// Sealed returns the newest signed head; it is empty before the first.
func (s *Store) Sealed(ctx context.Context) (out Sealed, err error) {
	err = s.read(ctx, func(c *conn) error {
		if out.Size, out.Head, err = lastHead(c); err != nil || out.Head == "" {
			return err
		}
		seed, err := keyOf(c)
		if err != nil {
			return err
		}
		out.Key, err = seal.Key(seal.OriginOf(out.Head), seed)
		return err
	})
	return out, err
}

func keyOf(c *conn) (seed []byte, err error) {
	found, err := c.one("SELECT value FROM meta WHERE name = ?", func(r row) { seed = slices.Clone(r.bytes(0)) }, sealKey)
	if err == nil && (!found || len(seed) != 32) {
		err = fault.New(fault.Internal, "the key that signs the log's heads is not there")
	}
	return seed, err
}

// ProveSince returns the proof that the log of that many places is the
// beginning of the log under the newest head.
func (s *Store) ProveSince(ctx context.Context, older uint64) (p tlog.TreeProof, newest Sealed, err error) {
	if newest, err = s.Sealed(ctx); err != nil {
		return nil, newest, err
	}
	if older == 0 || older > newest.Size {
		return nil, newest, fault.New(fault.Invalid, "the log is sealed up to place %d; a proof begins between 1 and there", newest.Size)
	}
	err = s.read(ctx, func(c *conn) error {
		p, err = seal.Prove(older, newest.Size, &seal.Reader{Tiles: tiles{c}})
		return err
	})
	return p, newest, err
}
