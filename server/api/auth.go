package api

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
	"wayfall/server/people"
)

// SessionCookie is the name of the cookie a desk session travels in.
const SessionCookie = "wayfall_desk"

const proofKey = "proof"

// For lets a request through when it comes from somebody who holds one of the
// roles; without roles, from anybody who is signed in. A desk session proves a
// person too, but only for reading: a browser sends cookies unasked.
func (a *API) For(roles ...people.Role) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			proof, err := a.prove(c)
			if err != nil {
				return err
			}
			if len(roles) > 0 && !proof.Person.May(roles...) {
				return fault.New(fault.Denied, "%s may not do this; it takes the role %s", proof.Person.Name, named(roles))
			}
			c.Set(proofKey, proof)
			return next(c)
		}
	}
}

func named(roles []people.Role) string {
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = strings.ReplaceAll(string(r), "_", " ")
	}
	return strings.Join(words, " or ")
}

func (a *API) prove(c echo.Context) (people.Proof, error) {
	header := c.Request().Header.Get("Authorization")
	if scheme, token, ok := strings.Cut(header, " "); ok && strings.EqualFold(scheme, "Bearer") {
		return a.people.Check(strings.TrimSpace(token))
	}
	method := c.Request().Method
	if cookie, err := c.Cookie(SessionCookie); err == nil && header == "" && (method == http.MethodGet || method == http.MethodHead) {
		p, err := a.people.Session(c.Request().Context(), cookie.Value)
		return people.Proof{Person: p}, err
	}
	return people.Proof{}, fault.New(fault.Unauthenticated, "an access token is needed: Authorization: Bearer …")
}

// who returns what For found out about the caller.
func who(c echo.Context) people.Proof {
	p, _ := c.Get(proofKey).(people.Proof)
	return p
}
