// Package api speaks HTTP for programs: phones, other museums' software, the
// loader of the demonstration. It decodes, calls, encodes; it decides nothing.
//
// It promises that a request is read strictly and whole before anything is
// done with it, that every refusal is a problem after RFC 9457 which names the
// place and the reason, and that openapi.yaml describes all of it. It never
// tells the inside of an error that is ours.
package api

import (
	"context"
	_ "embed"
	"encoding/json"
	"log/slog"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/server/reports"
)

// Description is the OpenAPI 3.1 description of the interface.
//
//go:embed openapi.yaml
var Description []byte

// Book is what is read of the finds, the animals and the arrivals. A record
// that is not there is a fault of kind Missing.
type Book interface {
	Finds(ctx context.Context, f catalogue.Filter) (catalogue.Finds, error)
	Find(ctx context.Context, id string) (catalogue.FindSheet, error)
	Animal(ctx context.Context, id string) (catalogue.AnimalSheet, error)
	Arrivals(ctx context.Context) ([]catalogue.ArrivalRow, error)
	Arrival(ctx context.Context, id string) (catalogue.ArrivalSheet, error)
	Drawer(ctx context.Context, text string) (catalogue.Drawer, error)
}

// Hands is what people do with arrivals, animals and parts. Every act is a new
// operation in the log.
type Hands interface {
	BeginArrival(ctx context.Context, by catalogue.Hand, o catalogue.Opening) (id string, err error)
	AddLines(ctx context.Context, by catalogue.Hand, arrival, text string) error
	AddBag(ctx context.Context, by catalogue.Hand, arrival string, typed catalogue.Typed) (tag string, err error)
	Accept(ctx context.Context, by catalogue.Hand, arrival string, a catalogue.Acceptance) (intakeNo string, err error)
	CloseArrival(ctx context.Context, by catalogue.Hand, arrival, note string) error
	Settle(ctx context.Context, by catalogue.Hand, animal string, s catalogue.Settlement) error
	Decide(ctx context.Context, by catalogue.Hand, report string, in catalogue.Deciding) error
	HandOver(ctx context.Context, by catalogue.Hand, animal string, h catalogue.Handover) error
	Release(ctx context.Context, by catalogue.Hand, animal, document, reason string) error
	GiveCatalogue(ctx context.Context, by catalogue.Hand, animal string) (no string, err error)
	AddPart(ctx context.Context, by catalogue.Hand, animal string, p catalogue.NewPart) (id string, err error)
}

// Office is what is read of the authorities and their years.
type Office interface {
	Permits(ctx context.Context, today permits.Date) ([]reports.PermitRow, error)
	Permit(ctx context.Context, id string, today permits.Date) (reports.PermitSheet, error)
	Year(ctx context.Context, id string, year int) (reports.Year, error)
	InstitutionYear(ctx context.Context, year int) (reports.InstitutionYear, error)
}

// Desk is what intake decides: verdicts, new reports, joins, editions of an
// authority, and the list of what needs a look.
type Desk interface {
	// Verdict answers a report and keeps nothing.
	Verdict(ctx context.Context, by intake.Hand, d intake.Draft) (permits.Verdict, error)
	// Asked answers facts of one visit and keeps nothing.
	Asked(ctx context.Context, finds []screen.Facts, used *quota.Fixed) ([]permits.Verdict, error)
	// Report keeps a report as an operation of the server's own device. The
	// same key from the same person keeps it once.
	Report(ctx context.Context, by intake.Hand, key string, d intake.Draft) (intake.Kept, error)
	Join(ctx context.Context, by intake.Hand, animal, other string) error
	Authority(ctx context.Context, by intake.Hand, document json.RawMessage) error
	Review(ctx context.Context, code string, limit int) (items []intake.Item, counts map[string]int, err error)
	Settle(ctx context.Context, by intake.Hand, id, how, note string) error
}

// Photos keeps the bytes of pictures by their SHA-256 in hex.
type Photos interface {
	PutPhoto(ctx context.Context, sha256, mediaType string, bytes []byte) error
	// Photo returns nil bytes when there is no such photo here.
	Photo(ctx context.Context, sha256 string) (bytes []byte, mediaType string, err error)
}

// Kit is all that a phone needs while it has no signal, as JSON, with a tag
// that changes when it does.
type Kit func(ctx context.Context) (body []byte, tag string, err error)

// Needs is everything the interface stands on.
type Needs struct {
	Institution string
	Version     string
	Now         func() time.Time
	Zone        *time.Location // of the institution; nil is UTC
	Log         *slog.Logger   // nil keeps quiet
	People      *people.Book
	Sync        Sync
	Book        Book
	Hands       Hands
	Office      Office
	Desk        Desk
	Photos      Photos
	Kit         Kit
	// Keep says what is kept for a paper, and until when; nil says nothing.
	Keep func(a *permits.Authority) []rules.Keeping
	// Met tells everybody who judges that people have changed; nil tells nobody.
	Met func(ctx context.Context) error
	// Answers keeps what was answered to a request with an Idempotency-Key.
	Answers people.Store
	// Tries is how often one address may try to sign in at once, and Every how
	// long it then waits for each further try; 0 is 20 and 3 s.
	Tries int
	Every time.Duration
}

// API is the interface for programs.
type API struct {
	Needs
	people *people.Book
	now    func() time.Time
	log    *slog.Logger
	tries  *rate
	keys   keyed
}

// New returns the interface.
func New(n Needs) *API {
	if n.Log == nil {
		n.Log = slog.New(slog.DiscardHandler)
	}
	if n.Zone == nil {
		n.Zone = time.UTC
	}
	if n.Tries == 0 {
		n.Tries = 20
	}
	if n.Every == 0 {
		n.Every = 3 * time.Second
	}
	return &API{Needs: n, people: n.People, now: n.Now, log: n.Log, tries: newRate(n.Tries, n.Every)}
}

// hand is who makes this request, with the time at the institution.
func (a *API) hand(c echo.Context) catalogue.Hand {
	now := a.now().In(a.Zone)
	return catalogue.Hand{Person: who(c).Person.ID, AtMS: now.UnixMilli(),
		Local: now.Format("2006-01-02T15:04"), Zone: now.Format("-07:00")}
}

func (a *API) today() permits.Date {
	y, m, d := a.now().In(a.Zone).Date()
	return permits.NewDate(y, int(m), d)
}

// Health answers that the server is there.
func (a *API) Health(c echo.Context) error {
	return answer(c, http.StatusOK, map[string]any{"ok": true, "version": a.Version, "now": stampOf(a.now())})
}

// OpenAPI hands out the description of the interface.
func (a *API) OpenAPI(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/yaml", Description)
}

// stampOf writes a moment of the system: RFC 3339, UTC, fixed width.
func stampOf(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

func answer(c echo.Context, status int, v any) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(status, v)
}
