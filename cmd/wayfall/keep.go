package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wayfall/server/store"
)

// The names inside a folder of copies. Photos never change, so all copies
// share them.
const (
	storeFile  = "wayfall.db"
	copyPrefix = "wayfall-"
	copySuffix = ".db"
	copyPhotos = "photos"
	copyTime   = "20060102T150405Z"
)

type verifyCommand struct {
	kept
	Head []string `help:"File with a signed head that somebody kept, to hold the log against; may be given more than once." type:"existingfile" placeholder:"FILE"`
}

// Run looks at the whole store and says what it found.
func (c *verifyCommand) Run(ctx context.Context, out io.Writer) error {
	l := store.Look{Photos: c.photos(), Step: progress(out)}
	for _, name := range c.Head {
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		l.Kept = append(l.Kept, string(text))
	}
	a, err := store.VerifyFile(ctx, c.path(), l)
	if err != nil {
		return err
	}
	for range l.Kept {
		fmt.Fprintln(out, "A head that was kept agrees with the log.")
	}
	return account(out, a)
}

func account(out io.Writer, a store.Account) error {
	fmt.Fprintf(out, "Whole: %d operations of %d devices, %d records, %d photos, %d signed heads.\n", a.Operations, a.Devices, a.Records, a.Photos, a.Heads)
	if n := a.SetAside; n > 0 {
		fmt.Fprintf(out, "%d operations were set aside because their device told another story before.\n", n)
	}
	if n := len(a.Absent); n > 0 {
		fmt.Fprintf(out, "%d photos are named and not here; phones may still hold them.\n", n)
	}
	if n := a.Unsealed(); n > 0 {
		fmt.Fprintf(out, "%d operations came after the newest head: what was answered to them is not sealed yet.\n", n)
	}
	_, err := fmt.Fprint(out, a.Newest.Head)
	return err
}

// progress shows how far a long look has come, on a terminal only.
func progress(out io.Writer) func(done, of uint64) {
	f, ok := out.(*os.File)
	if !ok {
		return nil
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return nil
	}
	return func(done, of uint64) {
		fmt.Fprintf(f, "\r%3d %% of %d operations", done*100/max(of, 1), of)
		if of-done < 1000 {
			fmt.Fprint(f, "\r\033[K")
		}
	}
}

type backupCommand struct {
	kept
	To        string `help:"Folder that gathers copies." required:"" placeholder:"DIR"`
	Elsewhere bool   `help:"The copies lie on another machine or disk. Phones then let go of what the copy holds, a month later."`
}

// Run copies the store and its photos, and reads the whole copy back.
func (c *backupCommand) Run(ctx context.Context, out io.Writer) error {
	photos := filepath.Join(c.To, copyPhotos)
	if err := os.MkdirAll(photos, 0o700); err != nil {
		return err
	}
	to := filepath.Join(c.To, copyPrefix+time.Now().UTC().Format(copyTime)+copySuffix)
	if err := copyPhotosOf(ctx, c.photos(), photos); err != nil {
		return fmt.Errorf("copy photos: %w", err)
	}
	a, err := store.BackupFile(ctx, c.path(), to, store.Look{Photos: photos, Step: progress(out)})
	if err != nil {
		return fmt.Errorf("the copy %s is not good: %w", to, err)
	}
	if c.Elsewhere {
		if err := store.NoteBackedUp(c.path(), a.Operations); err != nil {
			return err
		}
	}
	fmt.Fprintln(out, "Copied and read back:", to)
	return account(out, a)
}

type restoreCommand struct {
	From string `help:"Folder that gathers copies." required:"" type:"existingdir" placeholder:"DIR"`
	Copy string `help:"Name of the copy; the newest if not given." placeholder:"NAME"`
	kept
}

// Run puts a copy back and begins another life of the store, so that phones
// offer again what the copy does not hold.
func (c *restoreCommand) Run(ctx context.Context, out io.Writer) error {
	name, err := c.name()
	if err != nil {
		return err
	}
	from := filepath.Join(c.From, name)
	a, err := store.VerifyFile(ctx, from, store.Look{Photos: filepath.Join(c.From, copyPhotos), Step: progress(out)})
	if err != nil {
		return fmt.Errorf("the copy %s is not good: %w", name, err)
	}
	if err := copyPhotosOf(ctx, filepath.Join(c.From, copyPhotos), c.photos()); err != nil {
		return fmt.Errorf("copy photos: %w", err)
	}
	if err := c.put(ctx, from); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Put back %s with %d operations. What came after it is offered again by phones that still hold it.\n", name, a.Operations)
	return err
}

// put copies a store that is known to be whole to where none is. In a folder
// it has its name only once its new life has begun.
func (c *restoreCommand) put(ctx context.Context, from string) error {
	if c.Store != "" {
		if err := store.CopyStore(ctx, from, c.Store); err != nil {
			return err
		}
		return c.begin(ctx, c.Store)
	}
	to := c.path()
	part := to + ".part"
	if _, err := os.Stat(to); !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s holds a store already; a copy is put back into an empty folder", c.Folder)
	}
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return err
	}
	if err := copyFile(from, part); err != nil {
		return err
	}
	if err := c.begin(ctx, part); err != nil {
		return err
	}
	return os.Rename(part, to)
}

func (c *restoreCommand) begin(ctx context.Context, path string) error {
	s, err := store.Open(path, store.Options{Now: time.Now, Random: rand.Reader, Photos: c.photos()})
	if err != nil {
		return err
	}
	err = s.NewIncarnation(ctx)
	if err == nil {
		_, err = s.Seal(ctx)
	}
	return errors.Join(err, s.Close())
}

func (c *restoreCommand) name() (string, error) {
	if c.Copy != "" {
		return filepath.Base(c.Copy), nil
	}
	all, err := filepath.Glob(filepath.Join(c.From, copyPrefix+"*"+copySuffix))
	if err != nil || len(all) == 0 {
		return "", errors.Join(err, fmt.Errorf("there is no copy in %s", c.From))
	}
	return filepath.Base(slices.Max(all)), nil
}

// copyPhotosOf copies the photos that are not there yet. A name is the sum of
// its bytes, so one that is there is the same.
func copyPhotosOf(ctx context.Context, from, to string) error {
	all, err := filepath.Glob(filepath.Join(from, "??", "*"))
	if err != nil {
		return err
	}
	for _, path := range all {
		if err := ctx.Err(); err != nil {
			return err
		}
		dir := filepath.Join(to, filepath.Base(filepath.Dir(path)))
		target := filepath.Join(dir, filepath.Base(path))
		if _, err := os.Stat(target); err == nil || strings.HasSuffix(path, ".part") {
			continue
		}
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return err
		}
		if err := copyFile(path, target+".part"); err != nil {
			return err
		}
		if err := os.Rename(target+".part", target); err != nil {
			return err
		}
	}
	return nil
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return errors.Join(err, in.Close())
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close(), in.Close())
}
