package web

import (
	"net/http"
	"sort"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
)

// trouble is a page that says what happened, what was kept and what to do.
type trouble struct {
	Shape, What, Kept, Do, Back string
	Typed                       []pair
}

type pair struct{ Name, Value string }

func statusOf(k fault.Kind) int {
	switch k {
	case fault.Invalid:
		return http.StatusUnprocessableEntity
	case fault.Denied:
		return http.StatusForbidden
	case fault.Unauthenticated:
		return http.StatusUnauthorized
	case fault.Missing:
		return http.StatusNotFound
	case fault.Stale, fault.Conflict:
		return http.StatusConflict
	case fault.TooLarge:
		return http.StatusRequestEntityTooLarge
	case fault.Busy:
		return http.StatusServiceUnavailable
	case fault.Unsupported:
		return http.StatusUnsupportedMediaType
	}
	return http.StatusInternalServerError
}

// advice says what to do about each kind of fault.
var advice = map[fault.Kind]string{
	fault.Invalid:     "Go back, correct it and send it again.",
	fault.Denied:      "Ask somebody with the right role.",
	fault.Missing:     "It may be a mistyped address, or a record of another institution.",
	fault.Stale:       "Somebody changed it while you looked. Go back, load the page again and decide on what stands now.",
	fault.Conflict:    "Go back and look at what is there already.",
	fault.TooLarge:    "Send it in smaller pieces.",
	fault.Busy:        "Try again in a minute.",
	fault.Unsupported: "Load the page again; it may be older than the server.",
}

// fail shows an error: the sentence of a fault, or that it is ours.
func (d *Desk) fail(c echo.Context, err error) error {
	kind := fault.KindOf(err)
	t := trouble{Shape: "ask", What: sentence(err), Kept: "Nothing was changed by this.", Do: advice[kind], Back: back(c)}
	if kind == fault.Missing {
		t.Shape, t.Kept = "note", ""
	}
	if kind == fault.Internal {
		t.Shape, t.What = "stop", "Something broke on our side"
		t.Kept, t.Do = "What was saved before is safe. It is written down for the people who run the server.", "Try again in a minute. If it stays, tell them when it happened."
		if d.Failed != nil {
			d.Failed(c, err)
		}
	}
	if c.Request().Method == http.MethodPost {
		t.Typed = typed(c)
	}
	return d.problem(c, statusOf(kind), t)
}

func (d *Desk) problem(c echo.Context, status int, t trouble) error {
	if t.Back == "" {
		t.Back = "/"
	}
	if t.Shape == "" {
		t.Shape = "ask"
	}
	return d.show(c, status, "problem", page{Title: t.What, Body: t})
}

// back is the page that a refused form came from.
func back(c echo.Context) string {
	if c.Request().Method == http.MethodGet {
		return "/"
	}
	return wayBack(c.Request())
}

// typed gives back what a refused form held, so that nobody types it twice.
func typed(c echo.Context) []pair {
	form, err := c.FormParams()
	if err != nil {
		return nil
	}
	var out []pair
	for name, values := range form {
		for _, v := range values {
			if v != "" && name != "saw" && name != "code" {
				out = append(out, pair{name, v})
			}
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name+out[i].Value < out[j].Name+out[j].Value })
	return out
}

// sentence makes a heading of a fault's sentence.
func sentence(err error) string {
	return upperFirst(strings.TrimSuffix(fault.Sentence(err), "."))
}
