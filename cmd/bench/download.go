package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// download adds up what a phone fetches on its first visit, as the server
// sends it: compressed where a compressed form lies beside the file.
func download(context.Context) ([]line, error) {
	const folder = "server/web/dist"
	var brotli, zipped float64
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !first(path) {
			return err
		}
		b, z, err := sizes(path)
		brotli, zipped = brotli+b, zipped+z
		return err
	})
	return []line{
		atMost("first download, brotli", brotli/1e6, 1.2, "MB", "page, core, lines of the home region; without the field kit"),
		atMost("first download, gzip", zipped/1e6, 1.2, "MB", "for browsers without brotli"),
	}, err
}

func first(path string) bool {
	for _, end := range []string{".br", ".gz"} {
		if strings.HasSuffix(path, end) {
			return false
		}
	}
	return strings.Contains(path, "/field/") || strings.HasSuffix(path, "home.bin")
}

func sizes(path string) (brotli, zipped float64, err error) {
	plain, err := os.ReadFile(path)
	if err != nil {
		return 0, 0, err
	}
	var z bytes.Buffer
	w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression)
	if _, err := w.Write(plain); err != nil {
		return 0, 0, err
	}
	if err := w.Close(); err != nil {
		return 0, 0, err
	}
	zipped = float64(min(z.Len(), len(plain)))
	brotli = zipped
	if info, err := os.Stat(path + ".br"); err == nil {
		brotli = float64(info.Size())
	}
	return brotli, zipped, nil
}
