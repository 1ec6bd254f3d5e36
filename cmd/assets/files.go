package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// builder knows where the sources are and where the products go.
type builder struct{ root, dist string }

func (b builder) source(path string) string { return filepath.Join(b.root, filepath.FromSlash(path)) }

// write puts a product in its place, whole or not at all.
func (b builder) write(path string, data []byte) error {
	full := filepath.Join(b.dist, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(full+".new", data, 0o644); err != nil {
		return err
	}
	return os.Rename(full+".new", full)
}

// copy writes a source file unchanged.
func (b builder) copy(from, to string) error {
	data, err := os.ReadFile(b.source(from))
	if err != nil {
		return err
	}
	return b.write(to, data)
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// incompressible files get no compressed copy.
var incompressible = []string{".png", ".gz", ".br", ".keep", ".made"}

// compress writes a gzip and a Brotli copy beside every product, for a server
// that hands out files as they lie.
func (b builder) compress() error {
	var all []string
	err := filepath.WalkDir(b.dist, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || slices.Contains(incompressible, filepath.Ext(path)) || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		small, err := squeeze(data)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(b.dist, path)
		if err != nil {
			return err
		}
		all = append(all, path)
		return b.write(filepath.ToSlash(rel)+".gz", small)
	})
	if err != nil {
		return err
	}
	return brotli(all)
}

// brotli lets Node, which the build needs for npm anyway, write the Brotli
// copies: Go's own library has no Brotli, and it saves a quarter of the first
// download.
func brotli(paths []string) error {
	const script = `const z=require("zlib"),fs=require("fs"),c=z.constants;
for(const p of process.argv.slice(1)){const d=fs.readFileSync(p);
fs.writeFileSync(p+".br",z.brotliCompressSync(d,{params:{[c.BROTLI_PARAM_QUALITY]:11,[c.BROTLI_PARAM_LGWIN]:24,[c.BROTLI_PARAM_SIZE_HINT]:d.length}}))}`
	out, err := exec.Command("node", append([]string{"-e", script}, paths...)...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("node: %w: %s", err, out)
	}
	return nil
}

// squeeze compresses without a name or a time, so that the same bytes give the
// same copy.
func squeeze(data []byte) ([]byte, error) {
	var buf bytes.Buffer
	z, err := gzip.NewWriterLevel(&buf, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	_, werr := z.Write(data)
	if err := errors.Join(werr, z.Close()); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}
