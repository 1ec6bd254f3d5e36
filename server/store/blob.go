package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"

	"wayfall/server/fault"
)

// Sum names bytes by their SHA-256.
type Sum [sha256.Size]byte

// String returns the sum in hexadecimal.
func (s Sum) String() string { return hex.EncodeToString(s[:]) }

// ParseSum reads a sum in lower-case hexadecimal.
func ParseSum(text string) (s Sum, err error) {
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != len(s) || hex.EncodeToString(b) != text {
		return s, fault.New(fault.Invalid, "a SHA-256 is 64 hexadecimal digits")
	}
	return Sum(b), nil
}

// claim lets one goroutine at a time write to one unfinished blob.
func (s *Store) claim(sum Sum) (release func(), err error) {
	if _, busy := s.uploads.LoadOrStore(sum, true); busy {
		return nil, fault.New(fault.Busy, "these bytes are being received already")
	}
	return func() { s.uploads.Delete(sum) }, nil
}

func (s *Store) blobPath(sum Sum) string {
	name := sum.String()
	return filepath.Join(s.blobs, name[:2], name)
}

func (s *Store) partPath(sum Sum) string { return filepath.Join(s.blobs, "tmp", sum.String()+".part") }

// Blob opens the bytes of that sum, and says how many there are. It returns a
// fault of kind Missing if they are not there whole.
func (s *Store) Blob(sum Sum) (io.ReadSeekCloser, int64, error) {
	f, err := os.Open(s.blobPath(sum))
	if errors.Is(err, os.ErrNotExist) {
		return nil, 0, fault.New(fault.Missing, "there are no bytes of sum %v", sum)
	}
	if err != nil {
		return nil, 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, f.Close())
	}
	return f, info.Size(), nil
}

// BlobOffset returns how many bytes of that sum have come, and whether they
// are whole.
func (s *Store) BlobOffset(sum Sum) (int64, bool, error) {
	if info, err := os.Stat(s.blobPath(sum)); err == nil {
		return info.Size(), true, nil
	}
	info, err := os.Stat(s.partPath(sum))
	if errors.Is(err, os.ErrNotExist) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, err
	}
	return info.Size(), false, nil
}

// PutBlob takes bytes of that sum from r, beginning at the offset, which must
// be where BlobOffset stands; size is how many there are in all. If r ends
// early, what came is kept for the next call. Once whole, the bytes are
// checked against the sum and put in place at one stroke; wrong bytes are
// dropped with a fault of kind Invalid. It reports whether they are whole.
func (s *Store) PutBlob(ctx context.Context, sum Sum, offset, size int64, r io.Reader) (whole bool, err error) {
	release, err := s.claim(sum)
	if err != nil {
		return false, err
	}
	defer release()
	have, whole, err := s.BlobOffset(sum)
	if err != nil || whole {
		return whole, err
	}
	if offset != have || size < offset {
		return false, fault.New(fault.Stale, "send on from byte %d", have)
	}
	n, copyErr := s.appendPart(ctx, sum, size-offset, r)
	if copyErr != nil || offset+n < size {
		return false, copyErr
	}
	return true, s.placeBlob(sum)
}

func (s *Store) appendPart(ctx context.Context, sum Sum, want int64, r io.Reader) (n int64, err error) {
	f, err := os.OpenFile(s.partPath(sum), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return 0, err
	}
	n, err = io.Copy(f, &untilDone{ctx, io.LimitReader(r, want)})
	return n, errors.Join(err, f.Sync(), f.Close())
}

type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u *untilDone) Read(b []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(b)
}

// placeBlob checks the whole bytes and renames them into place.
func (s *Store) placeBlob(sum Sum) error {
	part := s.partPath(sum)
	f, err := os.Open(part)
	if err != nil {
		return err
	}
	h := sha256.New()
	_, err = io.Copy(h, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if Sum(h.Sum(nil)) != sum {
		return errors.Join(fault.New(fault.Invalid, "the bytes are not those of sum %v", sum), os.Remove(part))
	}
	final := s.blobPath(sum)
	dir := filepath.Dir(final)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if err := os.Rename(part, final); err != nil {
		return err
	}
	return errors.Join(syncDir(dir), syncDir(s.blobs))
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
