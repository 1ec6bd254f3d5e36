package store

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"os"
	"path/filepath"
)

// Backup writes a copy of the store, without photos, to a new file, checks
// that the copy is whole, and returns the last place in its log. The copy can
// be opened as a store once NewIncarnation was called on it.
func (s *Store) Backup(ctx context.Context, path string) (lsn uint64, err error) {
	a, err := BackupFile(ctx, s.path, path, Look{Photos: s.blobs})
	return a.Operations, err
}

// BackupFile is Backup of the store at a path or URL, whether a server is running on
// it or not. The copy is looked at as VerifyFile does; one that is not whole
// is an error, and stays where it is for whoever asks why.
func BackupFile(ctx context.Context, from, to string, l Look) (a Account, err error) {
	if err := copyTo(ctx, from, to); err != nil {
		return a, err
	}
	f, err := os.Open(to)
	if err != nil {
		return a, err
	}
	if err := errors.Join(f.Sync(), f.Close(), syncDir(filepath.Dir(to))); err != nil {
		return a, err
	}
	if l.Photos == "" && !isURL(from) {
		l.Photos = from + ".blobs"
	}
	return VerifyFile(ctx, to, l)
}

// copyTo copies a store to a new file: one in a file as a file, one in a
// database row by row.
func copyTo(ctx context.Context, from, to string) error {
	if isURL(from) {
		return CopyStore(ctx, from, to)
	}
	if _, err := os.Stat(from); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	c, err := connect(from, true)
	if err != nil {
		return err
	}
	if _, err = c.exec("PRAGMA query_only = 0"); err == nil {
		_, err = c.exec("VACUUM INTO ?", to)
	}
	return errors.Join(err, c.close())
}

// NoteBackedUp is SetBackedUp of the store at a path, whether a server is
// running on it or not.
func NoteBackedUp(path string, lsn uint64) error {
	c, err := connect(path, false)
	if err != nil {
		return err
	}
	err = c.begin()
	if err == nil {
		err = raiseBackedUp(c, lsn)
		end := "COMMIT"
		if err != nil {
			end = "ROLLBACK"
		}
		_, e := c.exec(end)
		err = errors.Join(err, e)
	}
	return errors.Join(err, c.close())
}

// NewIncarnation begins another life of the server. It must be called when a
// store was restored from a backup, before any device speaks to it: the log
// may have lost its end, and devices must learn to offer theirs again.
func (s *Store) NewIncarnation(ctx context.Context) error {
	return s.do(ctx, func(w *writer) error {
		id := w.s.Identity()
		old := id.Incarnation
		for name, to := range map[string][]byte{"incarnation": id.Incarnation[:], "device": id.Device[:]} {
			if _, err := io.ReadFull(s.opts.Random, to); err != nil {
				return err
			}
			if _, err := w.c.exec("UPDATE meta SET value = ? WHERE name = ?", to, name); err != nil {
				return err
			}
		}
		if _, err := w.c.exec("INSERT INTO life (incarnation, upto) VALUES (?, ?)", old[:], w.next-1); err != nil {
			return err
		}
		if _, err := w.c.exec("DELETE FROM meta WHERE name = 'backed up'"); err != nil {
			return err
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		s.id = id
		return nil
	})
}

// SetBackedUp notes that a copy of the log up to a place exists elsewhere. The
// place never falls.
func (s *Store) SetBackedUp(ctx context.Context, lsn uint64) error {
	return s.do(ctx, func(w *writer) error { return raiseBackedUp(w.c, lsn) })
}

func raiseBackedUp(c *conn, lsn uint64) error {
	have, err := backedUp(c)
	if err != nil || lsn <= have {
		return err
	}
	return keepMeta(c, "backed up", binary.BigEndian.AppendUint64(nil, lsn))
}

// BackedUp returns up to which place a copy of the log exists elsewhere.
func (s *Store) BackedUp(ctx context.Context) (lsn uint64, err error) {
	err = s.read(ctx, func(c *conn) error {
		lsn, err = backedUp(c)
		return err
	})
	return lsn, err
}

func backedUp(c *conn) (lsn uint64, err error) {
	_, err = c.one("SELECT value FROM meta WHERE name = 'backed up'", func(r row) { lsn = binary.BigEndian.Uint64(r.bytes(0)) })
	return lsn, err
}
