package store

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wayfall/sync/merge"
	"wayfall/sync/op"
)

// names notes which photos operations name.
func (k *checker) names(acts []op.Act) {
	for i := range acts {
		for text := string(acts[i].Value); ; {
			_, rest, found := strings.Cut(text, `"sha256":"`)
			if !found {
				break
			}
			if sum, err := ParseSum(rest[:min(len(rest), 2*sha256.Size)]); err == nil {
				k.named[sum] = true
			}
			text = rest
		}
	}
}

// records holds the list of every record's operations against the log, and
// every kept state against what they fold to.
func (k *checker) records() error {
	err := k.c.query(keptColumns, func(r row) error {
		rec := keptOf(r)
		var have recordEnd
		for _, lsn := range rec.places(0) {
			have = have.then(lsn)
		}
		key := recordKey{rec.id, string(rec.kind)}
		if want, known := k.touch[key]; !known || have != want {
			return damaged("record %v does not list the operations that the log holds on it", rec.id)
		}
		delete(k.touch, key)
		k.Records++
		return k.state(rec)
	})
	if err != nil {
		return err
	}
	for key := range k.touch {
		return damaged("record %v has operations in the log and is not listed", key.id)
	}
	return nil
}

func (k *checker) state(rec kept) error {
	if rec.state == nil {
		return k.ctx.Err()
	}
	st := merge.New(rec.id, rec.kind)
	if err := st.Fold(rec.history(k.c, 0, rec.upto)); err != nil {
		return err
	}
	if !bytes.Equal(st.Append(nil), rec.state) {
		return damaged("the kept state of record %v is not what its operations fold to", rec.id)
	}
	return k.ctx.Err()
}

func (k *checker) aside() error {
	return k.c.query("SELECT n, hash, wire FROM aside ORDER BY n", func(r row) error {
		k.SetAside++
		if h := op.HashOf(r.bytes(2)); !bytes.Equal(h[:], r.bytes(1)) {
			return damaged("number %d of what was set aside is not as it was written", r.int(0))
		}
		return nil
	})
}

// photos adds up every photo that is here, and lists those that are not.
func (k *checker) photos() error {
	folders, err := os.ReadDir(k.look.Photos)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	for _, f := range folders {
		if f.Name() == "tmp" {
			continue
		}
		files, err := os.ReadDir(filepath.Join(k.look.Photos, f.Name()))
		if err != nil {
			return err
		}
		for _, name := range files {
			if err := k.photo(filepath.Join(k.look.Photos, f.Name(), name.Name())); err != nil {
				return err
			}
		}
	}
	for sum := range k.named {
		k.Absent = append(k.Absent, sum)
	}
	slices.SortFunc(k.Absent, func(a, b Sum) int { return bytes.Compare(a[:], b[:]) })
	return nil
}

func (k *checker) photo(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	h := sha256.New()
	_, err = io.Copy(h, &untilDone{k.ctx, f})
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	sum := Sum(h.Sum(nil))
	if sum.String() != filepath.Base(path) {
		return damaged("photo %s is not as it was received", filepath.Base(path))
	}
	delete(k.named, sum)
	k.Photos++
	return nil
}
