package api

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/server/people"
)

type signInBody struct {
	Code   string              `json:"code"`
	Device *people.DeviceClaim `json:"device,omitempty"`
}

type personOut struct {
	ID    string        `json:"id"`
	Name  string        `json:"name"`
	Roles []people.Role `json:"roles"`
}

type deviceOut struct {
	ID     string `json:"id"`
	Prefix string `json:"tag_prefix"`
}

type signedOut struct {
	Access      string     `json:"access"`
	ExpiresIn   int        `json:"expires_in"`
	Refresh     string     `json:"refresh,omitempty"`
	Person      personOut  `json:"person"`
	Institution string     `json:"institution"`
	Device      *deviceOut `json:"device,omitempty"`
}

// SignIn turns a one-time code into tokens.
func (a *API) SignIn(c echo.Context) error {
	var in signInBody
	if err := readJSON(c, &in); err != nil {
		return err
	}
	got, err := a.people.SignIn(c.Request().Context(), in.Code, in.Device)
	if err != nil {
		return err
	}
	out := signedOut{Access: got.Access, ExpiresIn: int(got.ExpiresIn.Seconds()), Refresh: got.Refresh,
		Person:      personOut{got.Person.ID, got.Person.Name, append([]people.Role{}, got.Person.Roles...)},
		Institution: a.Institution}
	if got.Device.ID != "" {
		out.Device = &deviceOut{got.Device.ID, got.Device.Prefix}
	}
	return answer(c, http.StatusOK, out)
}

// Token turns a refresh token into an access token.
func (a *API) Token(c echo.Context) error {
	var in struct {
		Refresh string `json:"refresh"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	access, lasts, err := a.people.Refresh(c.Request().Context(), in.Refresh)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"access": access, "expires_in": int(lasts.Seconds())})
}
