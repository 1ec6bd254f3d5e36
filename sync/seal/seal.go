// Package seal makes a log provable: every receipt is a leaf of a hash tree
// (RFC 9162 section 2.1), and the head of the tree is signed.
//
// It promises that two heads of one tree, honestly kept, can be shown to agree,
// and that no byte of a sealed receipt or of its operation can be changed
// without the heads parting. Heads are signed notes that hold a checkpoint:
// origin, size and root, a line each. A seal shows change after entry, never
// truth at entry, and two stories told to two readers are found only when
// their heads meet. It keeps nothing: hashes come from a HashReader.
package seal

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Receipt is what one leaf stands for.
type Receipt struct {
	oplog.Receipt
	Hash op.Hash // of the operation's bytes
	Link op.Link // of its device's chain, after it
}

// Bytes returns the leaf's bytes. No two different receipts have the same.
func (r Receipt) Bytes() []byte {
	b := make([]byte, 0, 320)
	b = append(b, "wayfall receipt v1\n"...)
	b = strconv.AppendUint(b, r.LSN, 10)
	b = append(b, '\n')
	b = hex.AppendEncode(b, r.Dev[:])
	b = append(b, ' ')
	b = strconv.AppendUint(b, r.Seq, 10)
	b = append(b, '\n')
	b = hex.AppendEncode(b, r.Hash[:])
	b = append(b, '\n')
	b = hex.AppendEncode(b, r.Link[:])
	b = append(b, '\n')
	b = strconv.AppendInt(b, r.Received, 10)
	b = append(b, ' ')
	b = strconv.AppendInt(b, r.Eff.Packed(), 10)
	b = append(b, '\n')
	b = strconv.AppendUint(b, uint64(r.Effect), 10)
	b = append(b, ' ')
	b = strconv.AppendQuote(b, r.Code)
	b = append(b, ' ')
	b = strconv.AppendQuote(b, r.Why)
	return append(b, '\n')
}

// Leaf returns the hash of the leaf.
func (r Receipt) Leaf() tlog.Hash { return tlog.RecordHash(r.Bytes()) }

// Head is the head of a tree: its first Size leaves have that root. Leaf n
// stands for place n+1 of the log.
type Head struct {
	Origin string
	Size   uint64
	Root   tlog.Hash
}

// Origin names the tree of one server in one of its lives.
func Origin(server, incarnation [16]byte) string {
	return "wayfall-" + hex.EncodeToString(server[:]) + "-" + hex.EncodeToString(incarnation[:])
}

func (h Head) text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", h.Origin, h.Size, base64.StdEncoding.EncodeToString(h.Root[:]))
}

// ed25519Note is the kind of key that the signed note format numbers 1.
const ed25519Note = 1

// Sign returns the head as a signed note. The seed is 32 secret bytes.
func (h Head) Sign(seed []byte) (string, error) {
	if len(seed) != ed25519.SeedSize {
		return "", fmt.Errorf("a seed is %d bytes, not %d", ed25519.SeedSize, len(seed))
	}
	vkey, err := Key(h.Origin, seed)
	if err != nil {
		return "", err
	}
	id := strings.Split(vkey, "+")[1]
	secret := base64.StdEncoding.EncodeToString(append([]byte{ed25519Note}, seed...))
	s, err := note.NewSigner("PRIVATE+KEY+" + h.Origin + "+" + id + "+" + secret)
	if err != nil {
		return "", err
	}
	signed, err := note.Sign(&note.Note{Text: h.text()}, s)
	return string(signed), err
}

// Key returns what checks the heads signed with that seed: name, number and
// public key, as signed notes write them.
func Key(origin string, seed []byte) (string, error) {
	public, ok := ed25519.NewKeyFromSeed(seed).Public().(ed25519.PublicKey)
	if !ok {
		return "", errors.New("an Ed25519 key without a public half")
	}
	return note.NewEd25519VerifierKey(origin, public)
}

// ErrHead says that a text is not a signed head of that key.
var ErrHead = errors.New("this is not a head that this server signed")

// Open reads a signed head and checks its signature.
func Open(signed, key string) (Head, error) {
	v, err := note.NewVerifier(key)
	if err != nil {
		return Head{}, fmt.Errorf("%w: %w", ErrHead, err)
	}
	n, err := note.Open([]byte(signed), note.VerifierList(v))
	if err != nil {
		return Head{}, fmt.Errorf("%w: %w", ErrHead, err)
	}
	h, err := parse(n.Text)
	if err == nil && h.Origin != v.Name() {
		err = fmt.Errorf("%w: it speaks of another tree", ErrHead)
	}
	return h, err
}

// OriginOf returns whose head a signed note says it is, unchecked, so that the
// key to check it with can be looked up.
func OriginOf(signed string) string {
	first, _, _ := strings.Cut(signed, "\n")
	return first
}

func parse(text string) (h Head, err error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 || lines[3] != "" || lines[0] == "" {
		return h, fmt.Errorf("%w: it is not origin, size and root", ErrHead)
	}
	size, err := strconv.ParseUint(lines[1], 10, 63)
	if err != nil || strconv.FormatUint(size, 10) != lines[1] {
		return h, fmt.Errorf("%w: %q is no size", ErrHead, lines[1])
	}
	root, err := base64.StdEncoding.Strict().DecodeString(lines[2])
	if err != nil || len(root) != tlog.HashSize {
		return h, fmt.Errorf("%w: %q is no root", ErrHead, lines[2])
	}
	return Head{lines[0], size, tlog.Hash(root)}, nil
}

// Root returns the root of the tree's first size leaves. A tree without leaves
// has the root of nothing, the SHA-256 of no bytes (RFC 9162 section 2.1.1).
func Root(size uint64, r tlog.HashReader) (tlog.Hash, error) {
	return tlog.TreeHash(int64(size), r)
}

// Prove returns the proof that the tree of older leaves is the beginning of
// the tree of newer ones.
func Prove(older, newer uint64, r tlog.HashReader) (tlog.TreeProof, error) {
	if older == 0 || older > newer {
		return nil, fmt.Errorf("there is no proof from %d leaves to %d", older, newer)
	}
	return tlog.ProveTree(int64(newer), int64(older), r)
}

// Agree checks that the older head is the beginning of the newer one.
func Agree(p tlog.TreeProof, older, newer Head) error {
	if older.Size == 0 || older.Size > newer.Size {
		return fmt.Errorf("the older head has %d leaves, the newer %d", older.Size, newer.Size)
	}
	if err := tlog.CheckTree(p, int64(newer.Size), newer.Root, int64(older.Size), older.Root); err != nil {
		return fmt.Errorf("the log before place %d is not the one it was: %w", older.Size, err)
	}
	return nil
}
