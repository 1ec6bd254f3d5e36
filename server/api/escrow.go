package api

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/server/people"
)

// Share is a share of a number that one device may spend without signal.
type Share struct {
	ID        string `json:"id"`
	Device    string `json:"device"`
	Record    string `json:"record"` // of the authority, on which a share is given back
	Authority string `json:"authority"`
	Quota     string `json:"quota"`
	Taxon     string `json:"taxon,omitempty"`
	From      string `json:"from"`
	To        string `json:"to"`
	First     int    `json:"first"`
	Last      int    `json:"last"`
	Next      int    `json:"next"`
	Left      int    `json:"left"`
	Spent     int    `json:"spent"`
	Gone      string `json:"gone,omitempty"`
}

// Number is one number with where its units are.
type Number struct {
	Authority string   `json:"authority"`
	Quota     string   `json:"quota"`
	Taxon     string   `json:"taxon,omitempty"`
	From      string   `json:"from"`
	To        string   `json:"to"`
	Limit     int      `json:"limit"`
	Free      int      `json:"free"`
	Reserve   int      `json:"reserve"`
	Lent      int      `json:"lent"`
	Spent     int      `json:"spent"`
	Burned    int      `json:"burned"`
	Entered   int      `json:"entered"`
	Over      int      `json:"over"`
	Shares    []Share  `json:"shares"`
	Alarms    []string `json:"alarms"`
}

// Shares lends numbers to devices.
type Shares interface {
	// Ask fills up what the device holds and returns all of it.
	Ask(ctx context.Context, who people.Proof, device string, nextSeq uint64) ([]Share, error)
	Numbers(ctx context.Context) ([]Number, error)
	// Lost declares a device lost.
	Lost(ctx context.Context, device string) error
}

// Lending answers what concerns shares.
type Lending struct{ Shares Shares }

// Ask fills up the shares of the device that asks.
func (l Lending) Ask(c echo.Context) error {
	var in struct {
		Device  string `json:"device"`
		NextSeq uint64 `json:"next_seq"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	all, err := l.Shares.Ask(c.Request().Context(), who(c), in.Device, in.NextSeq)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"grants": all})
}

// Numbers shows where the units of every number are.
func (l Lending) Numbers(c echo.Context) error {
	all, err := l.Shares.Numbers(c.Request().Context())
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"numbers": all})
}

// Lost declares a device lost.
func (l Lending) Lost(c echo.Context) error {
	if err := l.Shares.Lost(c.Request().Context(), c.Param("id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

type deviceKey struct{}

// OwnKit hands out the field kit with the shares of the device that asks.
func (a *API) OwnKit(c echo.Context) error {
	r := c.Request()
	c.SetRequest(r.WithContext(context.WithValue(r.Context(), deviceKey{}, who(c).Device)))
	return a.FieldKit(c)
}

// DeviceOf returns the device for which a kit is made, "" for none.
func DeviceOf(ctx context.Context) string {
	d, _ := ctx.Value(deviceKey{}).(string)
	return d
}
