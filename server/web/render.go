package web

import (
	"bytes"
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/people"
)

//go:embed desk/*.html desk/*.css
var sources embed.FS

// page is what every template gets.
type page struct {
	Title       string
	Here        string // the noun it belongs to
	Nouns       []noun
	Look        int // how many things need a look
	Who         people.Person
	Institution string
	Demo        bool
	Today       permits.Date
	Flash       *flash
	Body        any
}

type noun struct {
	Path, Name string
	Here       bool
}

type flash struct{ Shape, Text string }

var nouns = []noun{
	{Path: "/", Name: "Finds"}, {Path: "/permits", Name: "Permits"}, {Path: "/arrivals", Name: "Arrivals"},
	{Path: "/bench", Name: "Bench"}, {Path: "/catalogue", Name: "Catalogue"},
}

var pageNames = []string{"finds", "find", "animal", "permits", "permit", "permit-form", "permit-change", "permit-version", "people", "person", "year", "log", "duties", "arrivals", "arrival", "bench", "catalogue", "review", "whatif", "sign-in", "sign-out", "about", "problem"}

// pages holds one parsed set for each page. The functions that need the names
// of people are replaced for each request by show.
var pages = func() map[string]*template.Template {
	out := map[string]*template.Template{}
	for _, name := range pageNames {
		files := []string{"desk/layout.html", "desk/" + name + ".html"}
		if strings.HasPrefix(name, "p") {
			files = []string{"desk/layout.html", "desk/permit-parts.html", "desk/" + name + ".html"}
		}
		if name == "find" || name == "animal" {
			files = append(files, "desk/decided.html")
		}
		out[name] = template.Must(template.New("layout.html").Funcs(plainWords).Funcs(whatIfWords()).Funcs(namer{}.words()).ParseFS(sources, files...))
	}
	return out
}()

// show prints a page. A page that fails half way is never sent.
func (d *Desk) show(c echo.Context, status int, name string, p page) error {
	if who, ok := c.Get(whoKey).(people.Person); ok {
		p.Who = who
	} else if p.Who.ID == "" {
		p.Who = d.who(c)
	}
	p.Institution, p.Demo, p.Today = d.Institution, d.Demo, d.today()
	for _, n := range nouns {
		n.Here = n.Name == p.Here
		p.Nouns = append(p.Nouns, n)
	}
	if p.Flash == nil {
		p.Flash = takeFlash(c)
	}
	ctx := c.Request().Context()
	if d.Queue != nil && p.Who.ID != "" {
		if _, counts, err := d.Queue.Review(ctx, "", 1); err == nil {
			for _, n := range counts {
				p.Look += n
			}
		}
	}
	set, err := pages[name].Clone()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := set.Funcs(d.namer(ctx, p.Today).words()).Execute(&out, p); err != nil {
		if d.Failed != nil {
			d.Failed(c, err)
		}
		return c.String(http.StatusInternalServerError, "This page broke on our side. What was saved before is safe.")
	}
	return c.HTMLBlob(status, out.Bytes())
}

const flashName = "wayfall_said"

// goTo sends the browser on after a form, with a sentence to show there.
func goTo(c echo.Context, path, shape, text string) error {
	c.SetCookie(&http.Cookie{
		Name: flashName, Value: shape + "." + queryEscape(text), Path: "/", MaxAge: 60,
		HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
	return c.Redirect(http.StatusSeeOther, path)
}

func takeFlash(c echo.Context) *flash {
	cookie, err := c.Cookie(flashName)
	if err != nil || cookie.Value == "" {
		return nil
	}
	c.SetCookie(&http.Cookie{Name: flashName, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	shape, text, _ := bytes.Cut([]byte(cookie.Value), []byte("."))
	said, err := url.QueryUnescape(string(text))
	if err != nil || shapeWords[string(shape)] == "" {
		return nil
	}
	return &flash{Shape: string(shape), Text: said}
}

func queryEscape(s string) string { return url.QueryEscape(s) }
