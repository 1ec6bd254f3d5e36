package api

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
)

func TestAPanicIsOurFaultAndIsWrittenDown(t *testing.T) {
	var logs bytes.Buffer
	a := New(Needs{Log: slog.New(slog.NewTextHandler(&logs, nil))})
	e := echo.New()
	e.HTTPErrorHandler = a.Fail
	e.Use(a.Recover)
	e.GET("/v1/oops", a.Squeezed(func(echo.Context) error { panic("the drawer is stuck at /secret") }))
	for _, coding := range []string{"", "gzip"} {
		logs.Reset()
		req := httptest.NewRequest("GET", "/v1/oops", nil)
		req.Header.Set("Accept-Encoding", coding)
		rec := httptest.NewRecorder()
		e.ServeHTTP(rec, req)
		if rec.Code != http.StatusInternalServerError || rec.Header().Get("Content-Type") != "application/problem+json" {
			t.Errorf("got %d %s, want a problem of 500", rec.Code, rec.Header().Get("Content-Type"))
		}
		if strings.Contains(rec.Body.String(), "secret") {
			t.Errorf("the answer tells of the inside: %s", rec.Body)
		}
		if !strings.Contains(logs.String(), "the drawer is stuck") || !strings.Contains(logs.String(), "recover_test.go") {
			t.Errorf("the log does not tell what happened and where: %s", &logs)
		}
	}
}

func TestALongAnswerIsPacked(t *testing.T) {
	a := New(Needs{})
	e := echo.New()
	e.HTTPErrorHandler = a.Fail
	e.GET("/v1/x", a.Squeezed(func(c echo.Context) error {
		return c.JSON(http.StatusOK, map[string]string{"a": strings.Repeat("b", 5000)})
	}))
	req := httptest.NewRequest("GET", "/v1/x", nil)
	req.Header.Set("Accept-Encoding", "br, gzip;q=0.5")
	rec := httptest.NewRecorder()
	e.ServeHTTP(rec, req)
	if rec.Header().Get("Content-Encoding") != "gzip" || rec.Body.Len() > 500 || rec.Header().Get("Content-Length") != "" {
		t.Errorf("got %q and %d bytes, want gzip and far fewer than 5000", rec.Header().Get("Content-Encoding"), rec.Body.Len())
	}
}
