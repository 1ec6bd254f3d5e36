package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
)

// Backup writes a copy of the store, without photos, to a new file, checks
// that the copy is sound, and returns the last place in its log. The copy can
// be opened as a store once NewIncarnation was called on it.
func (s *Store) Backup(ctx context.Context, path string) (lsn uint64, err error) {
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	if err := s.copyTo(path); err != nil {
		return 0, err
	}
	c, err := connect(path, false)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	verdict := ""
	if _, err := c.one("PRAGMA integrity_check", func(r row) { verdict = r.text(0) }); err != nil {
		return 0, err
	}
	if verdict != "ok" {
		return 0, fmt.Errorf("the copy is damaged: %s", verdict)
	}
	if _, err = c.one("SELECT coalesce(max(lsn), 0) FROM op", func(r row) { lsn = uint64(r.int(0)) }); err != nil {
		return 0, err
	}
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	return lsn, errors.Join(f.Sync(), f.Close())
}

// copyTo copies over a connection of its own: the readers' may not write at all.
func (s *Store) copyTo(path string) error {
	c, err := connect(s.path, false)
	if err != nil {
		return err
	}
	_, err = c.exec("VACUUM INTO ?", path)
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
	return s.do(ctx, func(w *writer) error {
		have, err := backedUp(w.c)
		if err != nil || lsn <= have {
			return err
		}
		_, err = w.c.exec("INSERT OR REPLACE INTO meta (name, value) VALUES ('backed up', ?)", binary.BigEndian.AppendUint64(nil, lsn))
		return err
	})
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
