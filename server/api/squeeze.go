package api

import (
	"compress/gzip"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
)

// Squeezed compresses answers for callers that take gzip. Pictures are
// compressed already and go as they are.
func (a *API) Squeezed(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Response().Header().Add("Vary", "Accept-Encoding")
		if !takesGzip(c.Request().Header.Get("Accept-Encoding")) || c.Request().Method == http.MethodHead {
			return next(c)
		}
		under := c.Response().Writer
		w := &squeezer{ResponseWriter: under}
		c.Response().Writer = w
		defer func() { c.Response().Writer = under }()
		err := next(c)
		if err != nil && !c.Response().Committed {
			a.Fail(err, c)
			err = nil
		}
		if closeErr := w.close(); err == nil {
			err = closeErr
		}
		return err
	}
}

func takesGzip(header string) bool {
	for _, one := range strings.Split(header, ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(one), ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") {
			return strings.ReplaceAll(weight, " ", "") != "q=0"
		}
	}
	return false
}

// squeezer begins to compress when it sees that there is a body worth it.
type squeezer struct {
	http.ResponseWriter
	zip *gzip.Writer
}

func (w *squeezer) WriteHeader(status int) {
	h := w.Header()
	kind := h.Get("Content-Type")
	bare := status == http.StatusNoContent || status == http.StatusNotModified || strings.HasPrefix(kind, "image/")
	if !bare && w.zip == nil && h.Get("Content-Encoding") == "" {
		h.Set("Content-Encoding", "gzip")
		h.Del("Content-Length")
		w.zip = gzip.NewWriter(w.ResponseWriter)
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *squeezer) Write(b []byte) (int, error) {
	if w.zip == nil {
		return w.ResponseWriter.Write(b)
	}
	return w.zip.Write(b)
}

// Unwrap lets the standard library reach the connection.
func (w *squeezer) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func (w *squeezer) close() error {
	if w.zip == nil {
		return nil
	}
	return w.zip.Close()
}
