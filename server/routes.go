package server

import (
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/api"
	"wayfall/server/people"
)

// route is one line of the list: how it is asked, who answers, and who may ask
// (nobody named: everybody who is signed in; open: everybody).
type route struct {
	method, path string
	answer       echo.HandlerFunc
	open         bool
	roles        []people.Role
}

// who groups roles as the list needs them.
var (
	signedIn   []people.Role
	museum     = []people.Role{people.PermitOfficer, people.Registrar, people.Preparator, people.Reader}
	officers   = []people.Role{people.PermitOfficer}
	registrars = []people.Role{people.Registrar}
	preparers  = []people.Role{people.Registrar, people.Preparator}
	settlers   = []people.Role{people.PermitOfficer, people.Registrar}
)

// Routes of the interface for programs, in the order of an animal's life. The
// pages of the desk stand in one list of their own, server/web.
func (s *Server) list() []route {
	a, lending, files := s.api, api.Lending{Shares: s.lender}, s.files()
	const get, post, put = http.MethodGet, http.MethodPost, http.MethodPut
	return []route{
		{get, "/v1/health", a.Health, true, nil},
		{get, "/v1/openapi.yaml", a.OpenAPI, true, nil},
		{post, "/v1/sign-in", a.Slowly(a.SignIn), true, nil},
		{post, "/v1/token", a.Slowly(a.Token), true, nil},
		{get, "/v1/field-kit", a.OwnKit, false, signedIn},
		{post, "/v1/grants", lending.Ask, false, signedIn},
		{get, "/v1/grants", lending.Numbers, false, museum},
		{post, "/v1/devices/:id/lost", lending.Lost, false, officers},
		{post, "/v1/people/:id/bars", a.Bar, false, officers},
		{post, "/v1/people/:id/bars/end", a.EndBar, false, officers},

		{post, "/v1/verdicts", a.Verdict, false, signedIn},
		{post, "/v1/verdicts/facts", a.FactsVerdict, false, signedIn},
		{post, "/v1/reports", a.Report, false, []people.Role{people.Salvager, people.Registrar, people.PermitOfficer}},
		{get, "/v1/reports", a.Reports, false, signedIn},
		{get, "/v1/reports/:id", a.OneReport, false, signedIn},
		{post, "/v1/reports/:id/decisions", a.Decide, false, officers},
		{put, "/v1/photos/:sha256", a.PutPhoto, false, signedIn},
		{get, "/v1/photos/:sha256", a.Photo, false, signedIn},

		{post, "/v1/sync/hello", a.Hello, false, signedIn},
		{post, "/v1/sync/push", a.Push, false, signedIn},
		{get, "/v1/sync/pull", a.Pull, false, signedIn},
		{get, "/v1/sync/head", api.Sealing{Seals: s.sealer}.Head, false, signedIn},

		{get, "/v1/permits", a.Permits, false, signedIn},
		{get, "/v1/permits/:id", a.Permit, false, signedIn},
		{put, "/v1/permits/:id", a.PutPermit, false, officers},
		{get, "/v1/permits/:id/balance", a.Balance, false, signedIn},
		{get, "/v1/permits/:id/years/:year", files.Year, false, museum},
		{get, "/v1/years/:year", files.InstitutionYear, false, museum},
		{get, "/v1/log/:lsn/head", files.LogHead, false, museum},
		{get, "/v1/permits/:id/bundle", files.Bundle, false, settlers},
		{get, "/v1/people/:id/duties.ics", files.Calendar, true, nil},
		{post, "/v1/people/:id/calendar", files.OpenCalendar, false, signedIn},
		{http.MethodDelete, "/v1/people/:id/calendar", files.EndCalendar, false, signedIn},

		{get, "/v1/arrivals", a.Arrivals, false, museum},
		{post, "/v1/arrivals", a.BeginArrival, false, registrars},
		{get, "/v1/arrivals/:id", a.Arrival, false, museum},
		{post, "/v1/arrivals/:id/list", a.AddLines, false, registrars},
		{post, "/v1/arrivals/:id/bags", a.AddBag, false, registrars},
		{post, "/v1/arrivals/:id/accept", a.Accept, false, registrars},
		{post, "/v1/arrivals/:id/close", a.CloseArrival, false, registrars},

		{get, "/v1/animals/:id", a.Animal, false, signedIn},
		{post, "/v1/animals/:id/same-as", a.SameAs, false, settlers},
		{post, "/v1/animals/:id/custody", a.HandOver, false, settlers},
		{post, "/v1/animals/:id/release", a.Release, false, settlers},
		{post, "/v1/animals/:id/fields/:field", a.SetField, false, []people.Role{people.PermitOfficer, people.Registrar, people.Preparator}},
		{post, "/v1/animals/:id/parts", a.AddPart, false, preparers},
		{post, "/v1/animals/:id/catalogue", a.Catalogue, false, registrars},

		{get, "/v1/catalogue", a.Drawer, false, museum},

		{get, "/v1/review", a.Review, false, museum},
		{post, "/v1/review/:id/settle", a.SettleReview, false, settlers},
	}
}

// routes mounts everything.
func (s *Server) routes() *echo.Echo {
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.IPExtractor = echo.ExtractIPDirect()
	e.HTTPErrorHandler = s.fail
	e.Use(secure, s.api.Recover, s.sync.screen.before)
	for _, r := range s.list() {
		h := r.answer
		if !r.open {
			h = s.api.For(r.roles...)(h)
		}
		e.Add(r.method, r.path, s.api.Squeezed(h))
	}
	s.desk.Register(e.Group(""))
	return e
}

// secure sets the headers that every answer has. The desk sets stricter ones
// on its pages; answers for programs load nothing at all.
func secure(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		if strings.HasPrefix(c.Request().URL.Path, "/v1/") {
			h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		} else {
			h.Set("Content-Security-Policy", "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		}
		return next(c)
	}
}

// fail answers errors: for programs as problems, for people as pages.
func (s *Server) fail(err error, c echo.Context) {
	if !strings.HasPrefix(c.Request().URL.Path, "/v1/") && !c.Response().Committed {
		if he, ok := err.(*echo.HTTPError); ok && he.Code == http.StatusNotFound {
			_ = c.String(http.StatusNotFound, "There is no such page here. The start page is /\n")
			return
		}
	}
	if allowed := s.allowed(c.Request()); len(allowed) > 0 && api.ProblemOf(err).Code == "missing" && !slices.Contains(allowed, c.Request().Method) {
		c.Response().Header().Set("Allow", strings.Join(allowed, ", "))
		err = echo.ErrMethodNotAllowed
	}
	s.api.Fail(err, c)
}

// allowed returns the methods that an address of the interface takes. The
// router cannot tell, since the desk answers every other address itself.
func (s *Server) allowed(r *http.Request) []string {
	var out []string
	asked := strings.Split(r.URL.Path, "/")
	for _, one := range s.list() {
		parts := strings.Split(one.path, "/")
		if len(parts) == len(asked) && fits(parts, asked) {
			out = append(out, one.method)
		}
	}
	return out
}

func fits(parts, asked []string) bool {
	for i, p := range parts {
		if p != asked[i] && !strings.HasPrefix(p, ":") {
			return false
		}
	}
	return true
}
