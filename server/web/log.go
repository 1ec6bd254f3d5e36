package web

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
)

type logBody struct{ Entry, Head, Shape, Said string }

// logHead lays a head that was printed beside the head of the log at the same
// entry.
func (d *Desk) logHead(c echo.Context) error {
	b := logBody{Entry: strings.TrimSpace(c.QueryParam("entry")), Head: strings.ToLower(strings.Join(strings.Fields(c.QueryParam("head")), ""))}
	status := http.StatusOK
	if b.Entry != "" || b.Head != "" {
		lsn, err := strconv.ParseUint(b.Entry, 10, 63)
		if err != nil || lsn == 0 {
			return fault.New(fault.Invalid, "an entry is a number, such as 1200")
		}
		if d.Head == nil {
			return fault.New(fault.Missing, "no log is kept here")
		}
		head, err := d.Head(c.Request().Context(), lsn)
		if err != nil {
			return err
		}
		b.Shape, b.Said = "stop", "The log has changed up to entry "+b.Entry+", or the head was typed wrong."
		if head == b.Head {
			b.Shape, b.Said = "take", "The log has not changed up to entry "+b.Entry+"."
		}
	}
	return d.show(c, status, "log", page{Title: "Check a printed head", Here: "Permits", Body: b})
}
