package store

import (
	"context"
	"strings"

	"wayfall/server/fault"
)

// Drawers keep small things of other packages: a value under a space and a
// key, with a version that rises with every writing. Two versions are special
// when writing.
const (
	New int64 = 0  // the key must not be there yet
	Any int64 = -1 // whatever is there
)

// Item is one thing in a drawer.
type Item struct {
	Key     string
	Version int64
	Value   []byte
}

// Get returns what is under the key; a fault of kind Missing if nothing is.
func (s *Store) Get(ctx context.Context, space, key string) (it Item, err error) {
	err = s.read(ctx, func(c *conn) error {
		it, err = get(c, space, key)
		return err
	})
	return it, err
}

// Put writes a value if the version is still the one given, and returns the
// new version; otherwise a fault of kind Stale.
func (s *Store) Put(ctx context.Context, space, key string, value []byte, version int64) (next int64, err error) {
	err = s.Within(ctx, func(tx *Tx) error {
		next, err = tx.Put(space, key, value, version)
		return err
	})
	return next, err
}

// Delete takes out what is under the key if the version is still the one
// given; otherwise it returns a fault of kind Stale. Nothing there is no fault
// for Any.
func (s *Store) Delete(ctx context.Context, space, key string, version int64) error {
	return s.Within(ctx, func(tx *Tx) error { return tx.Delete(space, key, version) })
}

// List calls do for everything in the space whose key begins with prefix, by
// key, all as of one moment. An error from do ends it and is returned.
func (s *Store) List(ctx context.Context, space, prefix string, do func(Item) error) error {
	return s.read(ctx, func(c *conn) error { return list(c, space, prefix, do) })
}

// Get reads inside the transaction; see Store.Get.
func (tx *Tx) Get(space, key string) (Item, error) { return get(tx.w.c, space, key) }

// List reads inside the transaction; see Store.List. do must not write.
func (tx *Tx) List(space, prefix string, do func(Item) error) error {
	return list(tx.w.c, space, prefix, do)
}

// Put writes inside the transaction; see Store.Put.
func (tx *Tx) Put(space, key string, value []byte, version int64) (int64, error) {
	if !tx.writes {
		return 0, errReadOnly
	}
	if value == nil {
		value = []byte{}
	}
	have, err := tx.check(space, key, version)
	if err != nil {
		return 0, err
	}
	return have + 1, tx.w.c.run(`INSERT INTO drawer (space, key, version, value) VALUES (?, ?, ?, ?)
		ON CONFLICT (space, key) DO UPDATE SET version = excluded.version, value = excluded.value`, space, key, have+1, value)
}

// Delete takes out inside the transaction; see Store.Delete.
func (tx *Tx) Delete(space, key string, version int64) error {
	if !tx.writes {
		return errReadOnly
	}
	if _, err := tx.check(space, key, version); err != nil {
		return err
	}
	_, err := tx.w.c.exec("DELETE FROM drawer WHERE space = ? AND key = ?", space, key)
	return err
}

// check returns the version that is there, 0 if none.
func (tx *Tx) check(space, key string, want int64) (have int64, err error) {
	_, err = tx.w.c.one("SELECT version FROM drawer WHERE space = ? AND key = ?", func(r row) { have = r.int(0) }, space, key)
	if err == nil && want != Any && want != have {
		err = fault.New(fault.Stale, "%s %s has been changed meanwhile", space, key)
	}
	return have, err
}

func get(c *conn, space, key string) (it Item, err error) {
	found, err := c.one("SELECT key, version, value FROM drawer WHERE space = ? AND key = ?", func(r row) { it = itemOf(r) }, space, key)
	if err == nil && !found {
		err = fault.New(fault.Missing, "there is no %s %s", space, key)
	}
	return it, err
}

func itemOf(r row) Item { return Item{r.text(0), r.int(1), r.bytes(2)} }

// list goes through keys by their bytes, which both databases order alike.
func list(c *conn, space, prefix string, do func(Item) error) error {
	return c.query("SELECT key, version, value FROM drawer WHERE space = ? AND key >= ? ORDER BY key", func(r row) error {
		it := itemOf(r)
		if !strings.HasPrefix(it.Key, prefix) {
			return errStop
		}
		return do(it)
	}, space, prefix)
}
