package api

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
)

// Problem is the answer to a request that could not be done, as RFC 9457
// writes it. Code is ours: one word for the program.
type Problem struct {
	Type   string  `json:"type"`
	Title  string  `json:"title"`
	Status int     `json:"status"`
	Detail string  `json:"detail"`
	Code   string  `json:"code,omitempty"`
	Errors []Wrong `json:"errors,omitempty"`
	// Expected is the number of the operation to push first.
	Expected uint64 `json:"expected,omitempty"`
}

// Wrong is one place in a request and what is wrong there.
type Wrong struct {
	Pointer string `json:"pointer"` // RFC 6901
	Detail  string `json:"detail"`
}

// Error makes a Problem an error that a handler may return.
func (p *Problem) Error() string { return p.Detail }

// ourFault is what a person reads when the mistake is ours.
const ourFault = "something went wrong on our side; nothing of this request was kept unless an answer said so, and it may be sent again"

// problem makes a Problem of a status with a code and a sentence.
func problem(status int, code, format string, args ...any) *Problem {
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status,
		Detail: fmt.Sprintf(format, args...), Code: code}
}

// statusOf maps kinds of fault to HTTP; it is the only place that does.
func statusOf(k fault.Kind) (status int, code string) {
	switch k {
	case fault.Invalid:
		return http.StatusUnprocessableEntity, "invalid"
	case fault.Denied:
		return http.StatusForbidden, "denied"
	case fault.Unauthenticated:
		return http.StatusUnauthorized, "sign_in_needed"
	case fault.Missing:
		return http.StatusNotFound, "missing"
	case fault.Stale:
		return http.StatusConflict, "stale"
	case fault.Conflict:
		return http.StatusConflict, "conflict"
	case fault.TooLarge:
		return http.StatusRequestEntityTooLarge, "too_large"
	case fault.Busy:
		return http.StatusServiceUnavailable, "busy"
	case fault.Unsupported:
		return http.StatusUnsupportedMediaType, "unsupported"
	}
	return http.StatusInternalServerError, "our_fault"
}

// ProblemOf turns any error into what the caller is told. An error nobody
// classified tells nothing of the inside.
func ProblemOf(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	var he *echo.HTTPError
	if errors.As(err, &he) && he.Code < http.StatusInternalServerError {
		return ofEcho(he.Code)
	}
	status, code := statusOf(fault.KindOf(err))
	if status == http.StatusInternalServerError {
		return problem(status, code, ourFault)
	}
	p = problem(status, code, "%s", fault.Sentence(err))
	for _, at := range fault.Pointers(err) {
		p.Errors = append(p.Errors, Wrong{Pointer: at.Pointer, Detail: at.Detail})
	}
	return p
}

func ofEcho(status int) *Problem {
	switch status {
	case http.StatusNotFound:
		return problem(status, "missing", "there is nothing at this address")
	case http.StatusMethodNotAllowed:
		return problem(status, "method", "this address does not take that method; the Allow header lists those it takes")
	}
	return problem(status, "request", "the request could not be read as it is")
}

// Fail answers a request with the problem that err is. It is Echo's error
// handler for the interface.
func (a *API) Fail(err error, c echo.Context) {
	if c.Response().Committed {
		a.log.Error("after the answer began", "error", err, "path", c.Path())
		return
	}
	p := ProblemOf(err)
	h := c.Response().Header()
	switch p.Status {
	case http.StatusUnauthorized:
		h.Set("WWW-Authenticate", `Bearer realm="wayfall"`)
	case http.StatusServiceUnavailable, http.StatusTooManyRequests:
		if h.Get("Retry-After") == "" {
			h.Set("Retry-After", "5")
		}
	case http.StatusInternalServerError:
		a.log.Error("our fault", "error", err, "method", c.Request().Method, "path", c.Path())
	}
	body, _ := json.Marshal(p)
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Type", "application/problem+json")
	c.Response().WriteHeader(p.Status)
	if c.Request().Method != http.MethodHead {
		_, _ = c.Response().Write(body)
	}
}

// Recover turns a panic into a problem of ours.
func (a *API) Recover(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			switch r := recover(); r {
			case nil:
			case http.ErrAbortHandler:
				panic(r)
			default:
				err = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
			}
		}()
		return next(c)
	}
}
