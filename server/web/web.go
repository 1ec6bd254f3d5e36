// Package web is the desk: pages for the permit officer, the registrar, the
// preparator and the reader, made on the server and whole without scripts.
//
// It promises that what somebody said is shown with who, when and from where,
// that a person without the right role gets a page that says so, that nothing
// typed is lost when an act is refused, and that text from outside is never
// markup. It decides nothing: it asks the interfaces below and prints what
// they answer. It also hands out the files of the field page.
package web

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/server/reports"
)

// Book is what the pages read of the finds and the animals. A record that is
// not there is a fault of kind Missing.
type Book interface {
	Finds(ctx context.Context, f catalogue.Filter) (catalogue.Finds, error)
	Find(ctx context.Context, id string) (catalogue.FindSheet, error)
	Animal(ctx context.Context, id string) (catalogue.AnimalSheet, error)
	Arrivals(ctx context.Context) ([]catalogue.ArrivalRow, error)
	Arrival(ctx context.Context, id string) (catalogue.ArrivalSheet, error)
	Bench(ctx context.Context) (catalogue.BenchSheet, error)
	Drawer(ctx context.Context, text string) (catalogue.Drawer, error)
}

// Hands is what people do at the desk. Every act is a new operation in the
// log; a refusal is a fault with a sentence for the person.
type Hands interface {
	NoteDone(ctx context.Context, by catalogue.Hand, report, code, evidence string) error
	Waive(ctx context.Context, by catalogue.Hand, report, code string, w catalogue.Waiver) error
	Decide(ctx context.Context, by catalogue.Hand, report string, in catalogue.Deciding) error
	Release(ctx context.Context, by catalogue.Hand, animal, document, reason string) error
	BeginArrival(ctx context.Context, by catalogue.Hand, o catalogue.Opening) (id string, err error)
	AddLines(ctx context.Context, by catalogue.Hand, arrival, text string) error
	AddBag(ctx context.Context, by catalogue.Hand, arrival string, typed catalogue.Typed) (tag string, err error)
	Accept(ctx context.Context, by catalogue.Hand, arrival string, a catalogue.Acceptance) (intakeNo string, err error)
	CloseArrival(ctx context.Context, by catalogue.Hand, arrival, note string) error
	Settle(ctx context.Context, by catalogue.Hand, animal string, s catalogue.Settlement) error
	SettleReport(ctx context.Context, by catalogue.Hand, report string, s catalogue.Settlement) error
	Correct(ctx context.Context, by catalogue.Hand, animal, field, text string) error
	JoinByTag(ctx context.Context, by catalogue.Hand, animal, tag string) (into string, err error)
	Apart(ctx context.Context, by catalogue.Hand, animal string, saw []string) error
	GivePreparation(ctx context.Context, by catalogue.Hand, animal, no string) error
	GiveCatalogue(ctx context.Context, by catalogue.Hand, animal string) (no string, err error)
	AddPart(ctx context.Context, by catalogue.Hand, animal string, p catalogue.NewPart) (id string, err error)
}

// Office is what the pages read of the authorities.
type Office interface {
	Permits(ctx context.Context, today permits.Date) ([]reports.PermitRow, error)
	Permit(ctx context.Context, id string, today permits.Date) (reports.PermitSheet, error)
	Year(ctx context.Context, id string, year int) (reports.Year, error)
	InstitutionYear(ctx context.Context, year int) (reports.InstitutionYear, error)
}

// Queue is the list of what needs a look.
type Queue interface {
	// Review returns at most limit open items of the code ("" is every code)
	// and how many are open by code.
	Review(ctx context.Context, code string, limit int) (items []intake.Item, counts map[string]int, err error)
	Settle(ctx context.Context, by catalogue.Hand, id, how, note string) error
}

// Door knows who sits at the desk; people.Book is one.
type Door interface {
	OpenSession(ctx context.Context, code string) (key string, lasts time.Duration, err error)
	Session(ctx context.Context, key string) (people.Person, error)
	CloseSession(ctx context.Context, key string) error
	All(ctx context.Context) ([]people.Person, error)
	Devices(ctx context.Context) ([]people.Device, error)
}

// Outline is a border near a place: lines of longitude and latitude in degrees.
type Outline struct {
	Name  string         `json:"name"`
	State bool           `json:"state,omitempty"` // a state's border rather than a county's
	Lines [][][2]float64 `json:"lines"`
}

// Outlines returns the borders that cross the square of the given half side in
// degrees of latitude around a point.
type Outlines interface {
	Near(lat, lon, half float64) []Outline
}

// Desk is the pages with everything they need. Office, Queue, Outlines and
// Photo may be missing; their pages then say that nothing is there.
type Desk struct {
	Institution string
	Device      string // id of the server's own device, which desk acts are written on
	Demo        bool
	Now         func() time.Time
	Zone        *time.Location // of the institution; nil is UTC
	Door        Door
	Book        Book
	Hands       Hands
	Office      Office
	Queue       Queue
	Asker       Asker              // answers what-if questions; nil: there is no such page
	Past        Past               // the answers that were given; nil: only the newest is shown in full
	Papers      Papers             // nil: papers are only read
	Names       *permits.Checklist // nil: animals are called as written
	Outlines    Outlines
	Duties      func(ctx context.Context) ([]catalogue.Duty, error) // nil: none are known
	Photo       func(ctx context.Context, sha256 string) (bytes []byte, mediaType string, err error)
	// Head is the head of the log at an entry; nil: no log is kept.
	Head func(ctx context.Context, lsn uint64) (string, error)
	// Failed is told of errors that are ours; nil tells nobody.
	Failed func(c echo.Context, err error)
}

// Register mounts every page of the desk and the files of the field page.
func (d *Desk) Register(g *echo.Group) {
	assets(g)
	page := g.Group("", safe, d.sameOrigin())
	page.GET("/sign-in", d.signInPage)
	page.POST("/sign-in", d.signIn)
	page.GET("/desk/foot.css", d.foot)
	page.GET("/about", d.open(d.about))
	page.GET("/sign-out", d.in(anyDesk, d.signOutPage))
	page.POST("/sign-out", d.signOut)

	page.GET("/", d.in(anyDesk, d.finds))
	page.GET("/finds/:id", d.in(anyDesk, d.find))
	page.POST("/finds/:id/fields/:field", d.in(settlers, d.settleFind))
	page.POST("/finds/:id/duties", d.in(settlers, d.noteDone))
	page.POST("/finds/:id/decisions", d.in(officers, d.decide))
	page.GET("/animals/:id", d.in(anyDesk, d.animal))
	page.POST("/animals/:id/fields/:field", d.in(settlers, d.settleField))
	page.POST("/animals/:id/release", d.in(settlers, d.release))
	page.POST("/animals/:id/correct", d.in(settlers, d.correct))
	page.POST("/animals/:id/same-as", d.in(settlers, d.join))
	page.POST("/animals/:id/apart", d.in(settlers, d.apart))
	page.POST("/animals/:id/preparation", d.in(preparers, d.preparation))
	page.POST("/animals/:id/parts", d.in(preparers, d.addPart))
	page.POST("/animals/:id/catalogue", d.in(registrars, d.giveCatalogue))

	d.paperRoutes(page)
	page.GET("/permits/:id/years/:year", d.in(anyDesk, d.year))
	page.GET("/years/:year", d.in(anyDesk, d.institutionYear))
	page.GET("/log", d.in(anyDesk, d.logHead))

	page.GET("/duties", d.in(anyDesk, d.duties))
	page.POST("/duties", d.in(settlers, d.noteDuty))
	page.POST("/duties/waive", d.in(officers, d.waiveDuty))

	page.GET("/arrivals", d.in(anyDesk, d.arrivals))
	page.POST("/arrivals", d.in(registrars, d.beginArrival))
	page.GET("/arrivals/:id", d.in(anyDesk, d.arrival))
	page.POST("/arrivals/:id/list", d.in(registrars, d.addLines))
	page.POST("/arrivals/:id/bags", d.in(registrars, d.addBag))
	page.POST("/arrivals/:id/accept", d.in(registrars, d.accept))
	page.POST("/arrivals/:id/accept-all", d.in(registrars, d.acceptAll))
	page.POST("/arrivals/:id/close", d.in(registrars, d.closeArrival))

	page.GET("/bench", d.in(anyDesk, d.bench))
	page.GET("/catalogue", d.in(anyDesk, d.drawer))
	page.GET("/what-if", d.in(anyDesk, d.whatIf))
	page.GET("/review", d.in(anyDesk, d.review))
	page.POST("/review/:id/settle", d.in(settlers, d.settleReview))

	page.GET("/data/lines", d.in(anyDesk, d.lines))
	page.GET("/photos/:sha256", d.in(anyDesk, d.photo))
}

var (
	anyDesk    = []people.Role{people.PermitOfficer, people.Registrar, people.Preparator, people.Reader}
	settlers   = []people.Role{people.PermitOfficer, people.Registrar}
	registrars = []people.Role{people.Registrar}
	preparers  = []people.Role{people.Registrar, people.Preparator}
)

func (d *Desk) now() time.Time {
	if d.Zone == nil {
		return d.Now().UTC()
	}
	return d.Now().In(d.Zone)
}

func (d *Desk) today() permits.Date {
	y, m, day := d.now().Date()
	return permits.NewDate(y, int(m), day)
}

// safe sets the headers that keep a page from loading or being framed by
// anything foreign.
func safe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		return next(c)
	}
}

// sameOrigin refuses writes that another site's page sends.
func (d *Desk) sameOrigin() echo.MiddlewareFunc {
	guard := http.NewCrossOriginProtection()
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if err := guard.Check(c.Request()); err != nil {
				return d.problem(c, http.StatusForbidden, trouble{
					What: "This form came from another site", Kept: "Nothing was changed.",
					Do: "If you meant it, open the page here and send it again.",
				})
			}
			return next(c)
		}
	}
}
