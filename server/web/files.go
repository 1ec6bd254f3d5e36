package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"

	"github.com/labstack/echo/v4"
)

//go:embed all:dist
var built embed.FS

// Built is what the build step made: the field page and the scripts of the
// desk. It may be empty in a tree that was never built.
func Built() fs.FS {
	sub, err := fs.Sub(built, "dist")
	if err != nil {
		return built
	}
	return sub
}

// kept is one file ready to be sent, packed once. brotli is there when the
// build step made it.
type kept struct {
	plain, gzip, brotli []byte
	tag, kind           string
}

// shelf packs files when they are first asked for and keeps them.
type shelf struct {
	from fs.FS
	mu   sync.Mutex
	kept map[string]kept
}

func (s *shelf) take(name string) (kept, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if k, ok := s.kept[name]; ok {
		return k, true
	}
	plain, err := fs.ReadFile(s.from, name)
	if err != nil || strings.HasPrefix(path.Base(name), ".") {
		return kept{}, false
	}
	sum := sha256.Sum256(plain)
	k := kept{plain: plain, tag: `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`, kind: kindOf(name)}
	if k.brotli, err = fs.ReadFile(s.from, name+".br"); err != nil {
		k.brotli = nil
	}
	if k.gzip, err = fs.ReadFile(s.from, name+".gz"); err != nil {
		k.gzip = pack(plain)
	}
	s.kept[name] = k
	return k, true
}

// pack returns the bytes in gzip, or nil when that saves too little.
func pack(plain []byte) []byte {
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return nil
	}
	if _, err := w.Write(plain); err != nil || w.Close() != nil || packed.Len() > len(plain)*9/10 {
		return nil
	}
	return packed.Bytes()
}

func kindOf(name string) string {
	switch path.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".wasm":
		return "application/wasm"
	case ".webmanifest":
		return "application/manifest+json"
	case ".bin":
		return "application/octet-stream"
	case ".css":
		return "text/css; charset=utf-8"
	case ".txt":
		return "text/plain; charset=utf-8"
	}
	if kind := mime.TypeByExtension(path.Ext(name)); kind != "" {
		return kind
	}
	return "application/octet-stream"
}

// serve sends files under a folder; what is asked for is the rest of the path.
func (s *shelf) serve(folder string) echo.HandlerFunc {
	return func(c echo.Context) error {
		rest := c.Param("*")
		if rest == "" {
			rest = "index.html"
		}
		k, ok := s.take(strings.TrimPrefix(path.Join(folder, path.Clean("/"+rest)), "/"))
		if !ok {
			return c.String(http.StatusNotFound, "There is no such file here.\n")
		}
		h := c.Response().Header()
		h.Set("ETag", k.tag)
		h.Set("Cache-Control", "no-cache")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Vary", "Accept-Encoding")
		if c.Request().Header.Get("If-None-Match") == k.tag {
			return c.NoContent(http.StatusNotModified)
		}
		body, coding := k.choose(c.Request().Header.Get("Accept-Encoding"))
		if coding != "" {
			h.Set("Content-Encoding", coding)
		}
		return c.Blob(http.StatusOK, k.kind, body)
	}
}

// one sends one file of a folder.
func (s *shelf) one(folder, name string) echo.HandlerFunc {
	send := s.serve(folder)
	return func(c echo.Context) error {
		c.SetParamNames("*")
		c.SetParamValues(name)
		return send(c)
	}
}

// choose returns the smallest form that the browser reads.
func (k kept) choose(accepts string) (body []byte, coding string) {
	switch {
	case k.brotli != nil && strings.Contains(accepts, "br"):
		return k.brotli, "br"
	case k.gzip != nil && strings.Contains(accepts, "gzip"):
		return k.gzip, "gzip"
	}
	return k.plain, ""
}

// assets mounts the files of the field page, the scripts of the desk and its
// style sheets.
func assets(g *echo.Group) {
	products := &shelf{from: Built(), kept: map[string]kept{}}
	styles := &shelf{from: sources, kept: map[string]kept{}}
	names, _ := fs.Glob(sources, "desk/*.css") // the pattern is a fixed one and cannot be bad
	for _, name := range names {
		g.GET("/"+name, styles.one("desk", path.Base(name)))
	}
	// Only what the desk itself needs is under /desk; the rest is the field page's.
	g.GET("/desk/*", products.serve("desk"))
	g.GET("/field", func(c echo.Context) error { return c.Redirect(http.StatusPermanentRedirect, "/field/") })
	for _, name := range []string{"credits.txt", "home.bin", "counties.bin"} {
		g.GET("/field/"+name, products.one("", name))
	}
	g.GET("/field/*", products.serve("field"))
}
