package api

import (
	"context"
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
)

// Sealed is the newest signed head of the log, and, if asked for, the proof
// that the log of fewer places is its beginning.
type Sealed struct {
	Head  string   `json:"head"`  // a signed note that holds a checkpoint
	Key   string   `json:"key"`   // what checks it: name, number, public key
	Size  uint64   `json:"size"`  // places of the log under it
	Proof []string `json:"proof"` // hashes, base64, RFC 9162 section 2.1.4
}

// Seals is what is read of the sealed log.
type Seals interface {
	// Sealed proves from since on; 0 asks for no proof.
	Sealed(ctx context.Context, since uint64) (Sealed, error)
}

// Sealing answers about the sealed log.
type Sealing struct{ Seals Seals }

// Head answers with the newest signed head.
func (s Sealing) Head(c echo.Context) error {
	since := uint64(0)
	if text := c.QueryParam("since"); text != "" {
		var err error
		if since, err = strconv.ParseUint(text, 10, 63); err != nil || since == 0 {
			return fault.New(fault.Invalid, "since is a place in the log, a whole number from 1 on")
		}
	}
	out, err := s.Seals.Sealed(c.Request().Context(), since)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}
