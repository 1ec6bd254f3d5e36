package api

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
)

// Limits of what a request may carry, after decompression.
const (
	limitJSON  = 1 << 20
	limitPush  = 8 << 20
	limitPhoto = 25 << 20
)

// open returns the body, decompressed and bounded, or a problem if it is in a
// form that is not read here.
func open(c echo.Context, limit int64, forms ...string) (io.Reader, error) {
	req := c.Request()
	if err := form(req, forms); err != nil {
		return nil, err
	}
	if req.ContentLength > limit {
		return nil, tooLarge(limit)
	}
	from := http.MaxBytesReader(c.Response(), req.Body, limit)
	switch coding := strings.ToLower(strings.TrimSpace(req.Header.Get("Content-Encoding"))); coding {
	case "", "identity":
		return from, nil
	case "gzip":
		unzip, err := gzip.NewReader(from)
		if err != nil {
			return nil, unread(err, limit)
		}
		return unzip, nil
	default:
		c.Response().Header().Set("Accept-Encoding", "gzip")
		return nil, problem(http.StatusUnsupportedMediaType, "coding", "a body compressed as %q is not read here; gzip is, and so is none", coding)
	}
}

// read returns the whole body, decompressed, or a problem: too large, cut
// short, or in a form that is not read here. Nothing is acted upon before the
// whole body was read, so a body that ends early leaves no trace.
func read(c echo.Context, limit int64, forms ...string) ([]byte, error) {
	from, err := open(c, limit, forms...)
	if err != nil {
		return nil, err
	}
	var body bytes.Buffer
	n, err := io.Copy(&body, io.LimitReader(from, limit+1))
	switch {
	case err != nil:
		return nil, unread(err, limit)
	case n > limit:
		return nil, tooLarge(limit)
	}
	return body.Bytes(), nil
}

func form(req *http.Request, forms []string) error {
	got, _, err := mime.ParseMediaType(req.Header.Get("Content-Type"))
	for _, want := range forms {
		if err == nil && got == want {
			return nil
		}
	}
	if len(forms) == 0 {
		return nil
	}
	return problem(http.StatusUnsupportedMediaType, "form", "this address reads %s", strings.Join(forms, " or "))
}

func tooLarge(limit int64) *Problem {
	return problem(http.StatusRequestEntityTooLarge, "too_large", "the body is larger than %d bytes; nothing of it was kept, so send it in smaller parts", limit)
}

// unread says why a body could not be read to its end.
func unread(err error, limit int64) error {
	var over *http.MaxBytesError
	switch {
	case errors.As(err, &over):
		return tooLarge(limit)
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return problem(http.StatusBadRequest, "cut_short", "the body ends before it is complete; 0 operations of this request were kept, so send it again whole")
	case errors.Is(err, gzip.ErrHeader), errors.Is(err, gzip.ErrChecksum):
		return problem(http.StatusBadRequest, "damaged", "the body says it is gzip and is damaged or is not; 0 operations of this request were kept, so send it again")
	}
	return problem(http.StatusBadRequest, "unread", "the body could not be read to its end; 0 operations of this request were kept, so send it again")
}

// readJSON reads a JSON body into v, strictly.
func readJSON(c echo.Context, v any) error {
	body, err := read(c, limitJSON, "application/json")
	if err != nil {
		return err
	}
	return strict(body, v)
}
