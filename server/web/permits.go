package web

import (
	"context"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// Papers is what the desk does with authorities and reads beside their sums.
type Papers interface {
	// Enter keeps an edition written by somebody who looked at edition saw, 0
	// for a new authority. Nothing is kept when it cannot be meant or when
	// somebody else was faster.
	Enter(ctx context.Context, by catalogue.Hand, a permits.Authority, saw int) error
	// Trail is who entered what of an authority, and its scans.
	Trail(ctx context.Context, id string) (Trail, error)
	// Shares are the units that phones hold, of every number.
	Shares(ctx context.Context) ([]Share, error)
	// Attach keeps the bytes of a scan and links them to the authority.
	Attach(ctx context.Context, by catalogue.Hand, id string, s Scan, body []byte) error
}

// Share is a part of a number that one phone may spend without signal.
type Share struct {
	Authority, Quota string
	Species          string // of a number for each species apart, as people call it
	Device           string
	Person           string // whose phone it is
	Left, Spent      int
	SinceMS          int64  // when it was lent
	HeardMS          int64  // when the phone was last heard, 0 if never since it was enrolled
	Gone             string // why the phone may not use it any more
}

// Trail is who entered what of an authority.
type Trail struct {
	Entered []Entered
	Scans   []Scan
}

// Entered is one save of an edition.
type Entered struct {
	Version int
	From    permits.Date
	Who     string
	AtMS    int64
	LSN     uint64
}

// Scan is a picture of the paper itself, found by the SHA-256 of its bytes.
type Scan struct {
	record.Photo
	Who  string
	AtMS int64
	LSN  uint64
}

var officers = []people.Role{people.PermitOfficer}

// paperRoutes mounts the pages of permits and of people.
func (d *Desk) paperRoutes(page *echo.Group) {
	page.GET("/permits", d.in(anyDesk, d.permits))
	page.GET("/permits/new", d.in(officers, d.newPaper))
	page.POST("/permits/new", d.in(officers, d.writePaper))
	page.GET("/permits/:id", d.in(anyDesk, d.permit))
	page.GET("/permits/:id/amend", d.in(officers, d.amendPaper))
	page.POST("/permits/:id/amend", d.in(officers, d.writePaper))
	page.GET("/permits/:id/versions/:version", d.in(anyDesk, d.paperVersion))
	page.POST("/permits/:id/scans", d.in(officers, d.addScan))
	page.GET("/permits/:id/scans/:sha256", d.in(anyDesk, d.scan))
	page.POST("/permits/:id/people", d.in(officers, d.addPerson))
	page.POST("/permits/:id/people/end", d.in(officers, d.endPerson))
	page.GET("/people", d.in(settlers, d.crew))
	page.GET("/people/:id", d.in(settlers, d.crewMember))
}

// numberRow is one number with its picture.
type numberRow struct {
	reports.Balance
	Who  []holder
	Href string
}

// Picture is the number drawn.
func (r numberRow) Picture() template.HTML { return gauge(r.Balance, r.Who, r.Href) }

// lentWords names who holds what of a number.
func (r numberRow) LentWords() string {
	var out []string
	for _, h := range namedShares(r.Lent, r.Who) {
		words := h.Name + " " + strconv.Itoa(h.N)
		if h.Gone != "" {
			words += " (" + h.Gone + ")"
		}
		out = append(out, words)
	}
	return strings.Join(out, ", ")
}

// numbers gives the balances of an authority their holders.
func (n namer) numbers(id string, balances []reports.Balance, shares []Share) []numberRow {
	var out []numberRow
	for _, b := range balances {
		if year, ok := strings.CutPrefix(b.Window, "in "); ok && year != strconv.Itoa(n.today.Year()) && len(year) == 4 {
			b.Free, b.Lent = b.Free+b.Lent, 0 // what is out now is of this year's number
		}
		row := numberRow{Balance: b, Href: "/permits/" + url.PathEscape(id) + "#shares"}
		for _, s := range shares {
			if s.Authority == id && s.Quota == b.Quota && (s.Species == "" || s.Species == b.Name) && s.Left > 0 {
				row.hold(holder{Name: n.person(s.Person), N: s.Left, Gone: s.Gone})
			}
		}
		out = append(out, row)
	}
	return out
}

func (r *numberRow) hold(h holder) {
	for i := range r.Who {
		if r.Who[i].Name == h.Name && r.Who[i].Gone == h.Gone {
			r.Who[i].N += h.N
			return
		}
	}
	r.Who = append(r.Who, h)
}

type paperCard struct {
	reports.PermitRow
	Numbers []numberRow
	Rests   []string // what is wrong with the papers it depends on
}

type permitsBody struct {
	Now, Past []paperCard
	MayEnter  bool
}

func (d *Desk) shares(ctx context.Context) ([]Share, error) {
	if d.Papers == nil {
		return nil, nil
	}
	return d.Papers.Shares(ctx)
}

func (d *Desk) permits(c echo.Context) error {
	ctx, b := c.Request().Context(), permitsBody{MayEnter: d.Papers != nil && seated(c).May(officers...)}
	if d.Office != nil {
		rows, err := d.Office.Permits(ctx, d.today())
		if err != nil {
			return err
		}
		shares, err := d.shares(ctx)
		if err != nil {
			return err
		}
		names := d.namer(ctx, d.today())
		for _, r := range rows {
			card := paperCard{PermitRow: r, Numbers: names.numbers(r.ID, r.Balances, shares), Rests: restsOn(r.Authority, rows, d.today())}
			if ended(r.Authority, d.today()) {
				b.Past = append(b.Past, card)
			} else {
				b.Now = append(b.Now, card)
			}
		}
	}
	return d.show(c, http.StatusOK, "permits", page{Title: "Permits", Here: "Permits", Body: b})
}

func ended(a permits.Authority, today permits.Date) bool {
	switch a.Status {
	case permits.Revoked, permits.Surrendered:
		return true
	case permits.Continued:
		return false
	}
	return a.ValidTo.Known() && a.ValidTo < today
}

// restsOn says which of the papers that a paper depends on do not hold.
func restsOn(a permits.Authority, all []reports.PermitRow, today permits.Date) []string {
	var out []string
	for _, id := range a.DependsOn {
		at := slices.IndexFunc(all, func(r reports.PermitRow) bool { return r.ID == id })
		switch {
		case at < 0:
			out = append(out, "It is good only with "+id+", which is not kept here.")
		case all[at].InForce(today) != permits.Yes:
			out = append(out, "It is good only with "+all[at].Name+", which is not in force.")
		}
	}
	return out
}

// endsSoon is how many days before its end a paper is said to end.
const endsSoon = 60

// paperState says how a paper stands today, with a shape and words.
func paperState(a permits.Authority, today permits.Date) template.HTML {
	until := func() string { return catalogue.DayText(a.ValidTo.String()) }
	switch a.Status {
	case permits.Suspended:
		return mark("stop", strings.TrimSpace("suspended "+catalogue.DayText(a.Ended.String())))
	case permits.Revoked:
		return mark("stop", strings.TrimSpace("revoked "+catalogue.DayText(a.Ended.String())))
	case permits.Surrendered:
		return mark("note", strings.TrimSpace("given back "+catalogue.DayText(a.Ended.String())))
	case permits.Draft:
		return mark("note", "draft, not in force")
	case permits.IssuedUnsigned:
		return mark("ask", "not signed, not in force")
	case permits.Continued:
		return mark("ask", "continued while the renewal is decided")
	case permits.Active, permits.Expired:
	default:
		return mark("ask", "not known how it stands")
	}
	if a.ValidFrom > today {
		return mark("note", "from "+catalogue.DayText(a.ValidFrom.String()))
	}
	if !a.ValidTo.Known() {
		return mark("take", "in force, no end")
	}
	switch days := today.DaysUntil(a.ValidTo); {
	case days < 0:
		return mark("stop", "ended "+until())
	case days == 0:
		return mark("ask", "ends today")
	case days <= endsSoon:
		return mark("ask", "ends in "+countOf(days, "day", "days")+", "+until())
	}
	return mark("take", "in force until "+until())
}

type permitBody struct {
	Permit          reports.PermitSheet
	Numbers         []numberRow
	Shares          []Share
	Words           []paperLine
	Duties          []paperLine
	Editions        []edition
	Scans           []Scan
	Rests           []string
	Due             []dueGroup
	DueCount        int
	MoreDue, AllDue bool
	MayEnter        bool
	Crew            []people.Person // who may be put on it
	Form            personForm
}

// dueFirst is how many things to do a permit shows before it is asked for all.
const dueFirst = 5

var noOffice = fault.New(fault.Missing, "no permit of that name is known here")

func (d *Desk) permit(c echo.Context) error { return d.permitWith(c, http.StatusOK, personForm{}) }

// permitWith shows a permit; form is what somebody typed and what is wrong
// with it.
func (d *Desk) permitWith(c echo.Context, status int, form personForm) error {
	if d.Office == nil {
		return noOffice
	}
	ctx := c.Request().Context()
	sheet, err := d.Office.Permit(ctx, c.Param("id"), d.today())
	if err != nil {
		return err
	}
	b := permitBody{Permit: sheet, Due: groupDue(sheet.Due), DueCount: len(sheet.Due), AllDue: c.QueryParam("due") == "all", Form: form}
	if b.MoreDue = !b.AllDue && len(b.Due) > dueFirst; b.MoreDue {
		b.Due = b.Due[:dueFirst]
	}
	if err := d.fillPermit(c, &b); err != nil {
		return err
	}
	return d.show(c, status, "permit", page{Title: sheet.Name, Here: "Permits", Body: b})
}

func (d *Desk) fillPermit(c echo.Context, b *permitBody) error {
	ctx, id := c.Request().Context(), b.Permit.ID
	rows, err := d.Office.Permits(ctx, d.today())
	if err != nil {
		return err
	}
	shares, err := d.shares(ctx)
	if err != nil {
		return err
	}
	var trail Trail
	if d.Papers != nil {
		if trail, err = d.Papers.Trail(ctx, id); err != nil {
			return err
		}
		b.MayEnter = seated(c).May(officers...)
	}
	t := d.teller(ctx, rows)
	b.Numbers = t.numbers(id, b.Permit.Balances, shares)
	b.Rests = restsOn(b.Permit.Authority, rows, d.today())
	b.Words, b.Duties = t.paper(b.Permit.Authority), t.duties(b.Permit.Authority)
	b.Editions, b.Scans = t.editions(b.Permit.Versions, trail.Entered), trail.Scans
	for _, s := range shares {
		if s.Authority == id {
			b.Shares = append(b.Shares, s)
		}
	}
	if b.MayEnter {
		if b.Crew, err = d.Door.All(ctx); err != nil {
			return err
		}
		b.Crew = slices.DeleteFunc(b.Crew, func(p people.Person) bool { return p.Left })
	}
	return nil
}

type versionBody struct {
	Permit        reports.PermitSheet
	Edition       edition
	Words, Duties []paperLine
}

// paperVersion shows one edition of a paper as it reads.
func (d *Desk) paperVersion(c echo.Context) error {
	if d.Office == nil {
		return noOffice
	}
	ctx := c.Request().Context()
	sheet, err := d.Office.Permit(ctx, c.Param("id"), d.today())
	if err != nil {
		return err
	}
	rows, err := d.Office.Permits(ctx, d.today())
	if err != nil {
		return err
	}
	var trail Trail
	if d.Papers != nil {
		if trail, err = d.Papers.Trail(ctx, sheet.ID); err != nil {
			return err
		}
	}
	t := d.teller(ctx, rows)
	for _, e := range t.editions(sheet.Versions, trail.Entered) {
		if strconv.Itoa(max(e.Version.Version, 1)) == c.Param("version") {
			b := versionBody{Permit: sheet, Edition: e, Words: t.paper(e.Authority), Duties: t.duties(e.Authority)}
			return d.show(c, http.StatusOK, "permit-version", page{Title: sheet.Name + ", version " + c.Param("version"), Here: "Permits", Body: b})
		}
	}
	return fault.New(fault.Missing, "this permit has no such version")
}
