package web

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
	"wayfall/server/people"
)

const cookieName = "wayfall_desk"

const whoKey = "who sits at the desk"

type handler func(c echo.Context) error

// in lets a signed-in person with one of the roles through to next.
func (d *Desk) in(roles []people.Role, next handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		who := d.who(c)
		if who.ID == "" {
			return c.Redirect(http.StatusSeeOther, "/sign-in?to="+queryEscape(wayBack(c.Request())))
		}
		c.Set(whoKey, who)
		if !who.May(roles...) {
			return d.problem(c, http.StatusForbidden, notYours(c, who, roles))
		}
		if err := next(c); err != nil {
			return d.fail(c, err)
		}
		return nil
	}
}

// open shows a page to everybody, signed in or not.
func (d *Desk) open(next handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Set(whoKey, d.who(c))
		return next(c)
	}
}

func (d *Desk) who(c echo.Context) people.Person {
	cookie, err := c.Cookie(cookieName)
	if err != nil || cookie.Value == "" {
		return people.Person{}
	}
	who, err := d.Door.Session(c.Request().Context(), cookie.Value)
	if err != nil {
		return people.Person{}
	}
	return who
}

// wayBack is where to go after signing in: a form that was sent meanwhile
// cannot be sent again, so its page is shown.
func wayBack(r *http.Request) string {
	if r.Method == http.MethodGet {
		return r.URL.RequestURI()
	}
	parts := strings.Split(r.URL.Path, "/")
	return strings.Join(parts[:min(3, len(parts))], "/")
}

func notYours(c echo.Context, who people.Person, roles []people.Role) trouble {
	var names []string
	for _, r := range roles {
		names = append(names, roleName(r))
	}
	t := trouble{
		Shape: "ask", What: "This is not among your tasks", Back: "/",
		Kept: "Nothing was changed.",
		Do:   "It is done by: " + strings.Join(names, ", ") + ". Ask one of them, or ask the permit officer to change your roles.",
	}
	if !who.May(anyDesk...) {
		t.What, t.Back = "These pages are for the desk", "/field/"
		t.Kept = "You are signed in as " + who.Name + ". Your work is on the field page."
	}
	if c.Request().Method == http.MethodPost {
		t.Typed = typed(c)
	}
	return t
}

type signInBody struct{ Code, To, Wrong string }

func (d *Desk) signInPage(c echo.Context) error {
	return d.show(c, http.StatusOK, "sign-in", page{Title: "Sign in", Body: signInBody{Code: c.QueryParam("code"), To: c.QueryParam("to")}})
}

func (d *Desk) signIn(c echo.Context) error {
	code, to := strings.TrimSpace(c.FormValue("code")), c.FormValue("to")
	key, lasts, err := d.Door.OpenSession(c.Request().Context(), code)
	if err != nil {
		wrong := sentence(err)
		if wrong == "" {
			return d.fail(c, err)
		}
		return d.show(c, statusOf(fault.KindOf(err)), "sign-in", page{Title: "Sign in", Body: signInBody{code, to, wrong}})
	}
	c.SetCookie(&http.Cookie{
		Name: cookieName, Value: key, Path: "/", MaxAge: int(lasts.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: c.IsTLS() || c.Scheme() == "https",
	})
	return c.Redirect(http.StatusSeeOther, local(to))
}

// local keeps a way back on this site.
func local(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return to
}

func (d *Desk) signOutPage(c echo.Context) error {
	return d.show(c, http.StatusOK, "sign-out", page{Title: "Sign out"})
}

func (d *Desk) signOut(c echo.Context) error {
	if cookie, err := c.Cookie(cookieName); err == nil {
		if err := d.Door.CloseSession(c.Request().Context(), cookie.Value); err != nil && !fault.Is(err, fault.Unauthenticated) {
			return d.fail(c, err)
		}
	}
	c.SetCookie(&http.Cookie{Name: cookieName, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}
