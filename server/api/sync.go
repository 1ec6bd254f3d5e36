package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/server/people"
	"wayfall/sync/exchange"
	"wayfall/sync/oplog"
)

// Sync is the log as devices see it.
type Sync interface {
	Hello(ctx context.Context, who people.Proof, h exchange.Hello) (exchange.Welcome, error)
	// Push takes a whole batch or nothing of it. When it returns without
	// error, what it took is durable.
	Push(ctx context.Context, who people.Proof, b oplog.Batch) ([]oplog.Receipt, error)
	Pull(ctx context.Context, who people.Proof, cursor string, limit int) (exchange.Page, error)
}

// lines is the media type of one JSON value a line.
const ndjson = "application/x-ndjson"

// pushLimits bound one push.
var pushLimits = exchange.Limits{Ops: exchange.Usual.Ops, Bytes: limitPush}

// Hello tells a device from where to push and whether its cursor still holds.
// Members of a later release are passed over.
func (a *API) Hello(c echo.Context) error {
	body, err := read(c, limitJSON, "application/json")
	if err != nil {
		return err
	}
	var in exchange.Hello
	if err := json.Unmarshal(body, &in); err != nil {
		return notJSON(err)
	}
	out, err := a.Sync.Hello(c.Request().Context(), who(c), in)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// Push takes a run of operations and answers with a receipt for each.
func (a *API) Push(c echo.Context) error {
	from, err := open(c, limitPush, ndjson)
	if err != nil {
		return err
	}
	batch, err := exchange.ReadPush(from, pushLimits)
	if err != nil {
		return unpushed(err)
	}
	receipts, err := a.Sync.Push(c.Request().Context(), who(c), batch)
	if err != nil {
		return unpushed(err)
	}
	var out bytes.Buffer
	if err := exchange.WriteResults(&out, receipts); err != nil {
		return err
	}
	return lines(c, out.Bytes())
}

func lines(c echo.Context, body []byte) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, ndjson, body)
}

// unpushed says why nothing of a push was kept.
func unpushed(err error) error {
	var cut *exchange.TruncatedError
	var gap *oplog.GapError
	var chain *oplog.ChainError
	switch {
	case errors.As(err, &cut):
		var over *http.MaxBytesError
		if errors.As(cut.Cause, &over) {
			return tooLarge(limitPush)
		}
		return problem(http.StatusBadRequest, "cut_short", "%s; 0 operations of this request were kept, so send it again whole", cutSentence(cut))
	case errors.Is(err, exchange.ErrLimit):
		return problem(http.StatusRequestEntityTooLarge, "too_large", "a push holds at most %d operations and %d bytes; 0 operations of this request were kept, so send fewer at once", pushLimits.Ops, pushLimits.Bytes)
	case errors.Is(err, exchange.ErrForm), errors.Is(err, oplog.ErrEmpty):
		return problem(http.StatusBadRequest, "not_a_push", "%v; 0 operations of this request were kept", err)
	case errors.Is(err, oplog.ErrBody):
		return problem(http.StatusUnprocessableEntity, "changed_on_the_way", "the operations do not add up to the link that came with them; 0 operations of this request were kept, so send it again")
	case errors.As(err, &gap):
		p := problem(http.StatusConflict, "gap", "operations before these are missing; 0 operations of this request were kept, so push from number %d on", gap.Expected)
		p.Expected = gap.Expected
		return p
	case errors.As(err, &chain):
		p := problem(http.StatusConflict, "chain", "what this device sent before, up to number %d, is not what the log holds; 0 operations of this request were kept, so offer all from number 1 to show where they part", chain.Seq)
		p.Expected = 1
		return p
	}
	return err
}

func cutSentence(cut *exchange.TruncatedError) string {
	plain := *cut
	plain.Cause = nil
	return plain.Error()
}

// Pull hands out operations with their receipts, in the order of the log.
func (a *API) Pull(c echo.Context) error {
	limit, err := number(c, "limit", 500, 1, 1000)
	if err != nil {
		return err
	}
	page, err := a.Sync.Pull(c.Request().Context(), who(c), c.QueryParam("cursor"), limit)
	if errors.Is(err, exchange.ErrCursor) {
		return problem(http.StatusBadRequest, "cursor", "that cursor was not given by this server; say hello again and pull from the start")
	}
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := exchange.WritePull(&out, page); err != nil {
		return err
	}
	return lines(c, out.Bytes())
}
