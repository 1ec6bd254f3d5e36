package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	_ "image/jpeg" // opened here to see that a scan is one
	_ "image/png"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// writing is everything that a form of a paper is held against.
type writing struct {
	teller
	sheet  reports.PermitSheet // of the paper as it is kept; empty for a new one
	base   permits.Authority   // the version in force today, or the newest that began
	newest int                 // number of the newest edition, 0 for none
	rows   []reports.PermitRow
	crew   []people.Person
}

func (d *Desk) writing(ctx context.Context, id string) (w writing, err error) {
	if d.Office == nil || d.Papers == nil {
		return w, noOffice
	}
	if w.rows, err = d.Office.Permits(ctx, d.today()); err != nil {
		return w, err
	}
	if w.crew, err = d.Door.All(ctx); err != nil {
		return w, err
	}
	w.crew = slices.DeleteFunc(w.crew, func(p people.Person) bool { return p.Left })
	w.teller = d.teller(ctx, w.rows)
	if id == "" {
		return w, nil
	}
	if w.sheet, err = d.Office.Permit(ctx, id, d.today()); err != nil {
		return w, err
	}
	var all []permits.Authority
	for _, v := range w.sheet.Versions {
		all, w.newest = append(all, v.Authority), max(w.newest, v.Version, 1)
	}
	w.base = w.sheet.Authority
	if a := permits.VersionAt(all, id, d.today()); a != nil {
		w.base = *a
	}
	return w, nil
}

func (w writing) form(in url.Values) paperForm {
	f := paperForm{In: in, rows: w.rows, fresh: w.newest == 0, crew: slices.Clone(w.crew)}
	for _, g := range w.base.Persons { // somebody on the paper stays on it, though unknown here
		if !slices.ContainsFunc(f.crew, func(p people.Person) bool { return p.ID == g.Person }) {
			f.crew = append(f.crew, people.Person{ID: g.Person, Name: w.person(g.Person)})
		}
	}
	return f
}

type writeBody struct {
	Form    paperForm
	Action  string
	Back    string
	Title   string
	Saw     string
	Notice  string // why a form that was right was not kept
	Version int    // that this would become
	Now     int    // the newest there is
	Paper   string
}

func (d *Desk) showForm(c echo.Context, status int, w writing, f paperForm, notice string) error {
	b := writeBody{Form: f, Notice: notice, Saw: strconv.Itoa(w.newest), Version: w.newest + 1, Now: w.newest, Action: "/permits/new", Back: "/permits", Title: "Enter a paper"}
	if w.newest > 0 {
		b.Paper, b.Back, b.Title = w.sheet.ID, "/permits/"+url.PathEscape(w.sheet.ID), "Amend: "+w.sheet.Name
		b.Action = b.Back + "/amend"
	}
	return d.show(c, status, "permit-form", page{Title: b.Title, Here: "Permits", Body: b})
}

func (d *Desk) newPaper(c echo.Context) error {
	w, err := d.writing(c.Request().Context(), "")
	if err != nil {
		return err
	}
	in := w.formOf(permits.Authority{Kind: "state_salvage", Status: permits.Active, Holder: d.Institution, Sample: d.Demo, CarryCopy: true,
		Activities: []string{"salvage", "possess", "transport", "transfer"}})
	in.Set("window.0", "calendar_year")
	setCounts(in, 3, 1)
	return d.showForm(c, http.StatusOK, w, w.form(in), "")
}

func (d *Desk) amendPaper(c echo.Context) error {
	w, err := d.writing(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	in := w.formOf(w.base)
	in.Set("effective_from", dayText(d.today()))
	return d.showForm(c, http.StatusOK, w, w.form(in), "")
}

// writePaper takes the form in: it adds rows, shows the form again with what is
// wrong, shows what a save would change, or saves.
func (d *Desk) writePaper(c echo.Context) error {
	w, err := d.writing(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	in, err := c.FormParams()
	if err != nil {
		return fault.As(fault.Invalid, err, "the form could not be read")
	}
	f := w.form(in)
	if step := in.Get("step"); step == personRows || step == quotaRows {
		in.Set(step, strconv.Itoa(f.count(step)+3))
		return d.showForm(c, http.StatusOK, w, f, "")
	} else if step == "form" {
		return d.showForm(c, http.StatusOK, w, f, "")
	}
	return d.weighPaper(c, w, f, in.Get("step") == "save")
}

// weighPaper reads the form; what is right is shown as what changes, or saved.
func (d *Desk) weighPaper(c echo.Context, w writing, f paperForm, save bool) error {
	next := f.read(w.teller, w.base)
	if len(f.Wrong) > 0 {
		return d.showForm(c, http.StatusUnprocessableEntity, w, f, "")
	}
	if w.newest > 0 && len(w.changes(w.base, next)) == 0 {
		return d.showForm(c, http.StatusUnprocessableEntity, w, f, fmt.Sprintf("Nothing differs from version %d, so there is nothing to save.", w.newest))
	}
	if !save {
		return d.showChange(c, w, f, next)
	}
	saw, err := strconv.Atoi(f.In.Get("saw"))
	if err != nil {
		saw = -1
	}
	err = d.Papers.Enter(c.Request().Context(), d.hand(c), next, saw)
	switch {
	case err == nil:
		return goTo(c, "/permits/"+url.PathEscape(next.ID), "take", fmt.Sprintf("Saved as version %d. Earlier versions stay readable below.", w.newest+1))
	case fault.Is(err, fault.Stale), fault.Is(err, fault.Conflict):
		return d.showForm(c, statusOf(fault.KindOf(err)), w, f, sentence(err)+". Nothing was saved; everything you typed is here. Look at what stands now, then show what changes again.")
	case fault.Is(err, fault.Invalid):
		for _, p := range fault.Pointers(err) {
			f.complain(fieldOf(strings.TrimPrefix(p.Pointer, "/"), nil, nil), "%s", p.Detail)
		}
		return d.showForm(c, http.StatusUnprocessableEntity, w, f, sentence(err)+". Nothing was saved.")
	}
	return err
}

type changeBody struct {
	writeBody
	Changes []change
	Follows []string
	Words   []paperLine // of a new paper
	From    permits.Date
}

func (d *Desk) showChange(c echo.Context, w writing, f paperForm, next permits.Authority) error {
	b := changeBody{From: next.From(), writeBody: writeBody{Form: f, Version: w.newest + 1, Now: w.newest, Action: "/permits/new", Back: "/permits", Title: "This is what will be kept"}}
	f.In.Set("saw", strconv.Itoa(w.newest))
	if w.newest == 0 {
		b.Words = w.whole(next)
		return d.show(c, http.StatusOK, "permit-change", page{Title: b.Title, Here: "Permits", Body: b})
	}
	shares, err := d.shares(c.Request().Context())
	if err != nil {
		return err
	}
	b.Title, b.Paper, b.Back = "This is what changes", w.sheet.Name, "/permits/"+url.PathEscape(w.sheet.ID)
	b.Action = b.Back + "/amend"
	b.Changes = w.changes(w.base, next)
	b.Follows = w.follows(amendment{old: w.base, next: next, sheet: w.sheet, shares: shares, rows: w.rows, today: d.today()})
	return d.show(c, http.StatusOK, "permit-change", page{Title: b.Title, Here: "Permits", Body: b})
}

// personForm is somebody who is to be put on a paper, as it was typed.
type personForm struct {
	Person, Role, From, To string
	Wrong                  []string
}

// addPerson puts somebody on a paper from day to day: an amendment that counts
// from today, or from the first of those days when it lies before today.
func (d *Desk) addPerson(c echo.Context) error {
	w, err := d.writing(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	typed := personForm{Person: c.FormValue("person"), Role: c.FormValue("role"), From: c.FormValue("from"), To: c.FormValue("to")}
	in := w.formOf(w.base)
	n := strconv.Itoa(len(w.base.Persons))
	for name, v := range map[string]string{"person.": typed.Person, "role.": typed.Role, "from.": typed.From, "to.": typed.To} {
		in.Set(name+n, v)
	}
	f := w.form(in)
	from := f.day("from." + n)
	f.In.Set("effective_from", dayText(d.today()))
	if from.Known() && from < d.today() {
		f.In.Set("effective_from", dayText(from))
	}
	if typed.Person == "" {
		f.complain("person."+n, "choose a person")
	}
	return d.personChange(c, w, f, typed)
}

func (d *Desk) personChange(c echo.Context, w writing, f paperForm, typed personForm) error {
	next := f.read(w.teller, w.base)
	for _, p := range f.Sentences() {
		typed.Wrong = append(typed.Wrong, p.Value)
	}
	if len(typed.Wrong) > 0 {
		return d.permitWith(c, http.StatusUnprocessableEntity, typed)
	}
	return d.showChange(c, w, f, next)
}

// endPerson ends somebody's time on a paper with a last day. A day before today
// makes the amendment count from the day after it.
func (d *Desk) endPerson(c echo.Context) error {
	w, err := d.writing(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	row, err := strconv.Atoi(c.FormValue("row"))
	person := c.FormValue("person")
	if err != nil || row < 0 || row >= len(w.base.Persons) || w.base.Persons[row].Person != person {
		return fault.New(fault.Stale, "the list of people on this paper is not the one you saw")
	}
	f := w.form(w.formOf(w.base))
	typed := personForm{To: c.FormValue("to")}
	f.In.Set("to."+strconv.Itoa(row), typed.To)
	to := f.day("to." + strconv.Itoa(row))
	if !to.Known() && len(f.Wrong) == 0 {
		f.complain("to."+strconv.Itoa(row), "say which is the last day")
	}
	f.In.Set("effective_from", dayText(min(d.today(), to.AddDays(1))))
	if !to.Known() {
		f.In.Set("effective_from", dayText(d.today()))
	}
	return d.personChange(c, w, f, typed)
}

// largestScan is how many bytes a scan may have, as of a photo.
const largestScan = 25 << 20

func (d *Desk) addScan(c echo.Context) error {
	if d.Papers == nil {
		return noOffice
	}
	r := c.Request()
	r.Body = http.MaxBytesReader(c.Response(), r.Body, largestScan+1<<20)
	head, err := c.FormFile("scan")
	if err != nil {
		if _, large := err.(*http.MaxBytesError); large {
			return fault.New(fault.TooLarge, "a scan has at most 25 MB")
		}
		return fault.New(fault.Invalid, "choose a file: a JPEG or PNG picture, or a PDF")
	}
	file, err := head.Open()
	if err != nil {
		return err
	}
	defer file.Close()
	body, err := io.ReadAll(file)
	if err != nil {
		return err
	}
	kind := scanKind(body)
	if kind == "" {
		return fault.New(fault.Invalid, "%q is no JPEG or PNG picture that can be opened, and no whole PDF", head.Filename)
	}
	sum := sha256.Sum256(body)
	s := Scan{Photo: record.Photo{SHA256: hex.EncodeToString(sum[:]), Size: int64(len(body)), Type: kind, Caption: strings.TrimSpace(c.FormValue("caption")), At: d.now().Format("2006-01-02T15:04:05Z07:00")}}
	if err := d.Papers.Attach(r.Context(), d.hand(c), c.Param("id"), s, body); err != nil {
		return err
	}
	return goTo(c, "/permits/"+url.PathEscape(c.Param("id"))+"#scans", "take", "Kept. The scan is found by its digest and cannot be altered.")
}

// scanKind opens the bytes and says what they are, "" for what is no scan.
func scanKind(body []byte) string {
	if bytes.HasPrefix(body, []byte("%PDF-")) {
		if bytes.Contains(body[max(0, len(body)-2048):], []byte("%%EOF")) {
			return "application/pdf"
		}
		return ""
	}
	head, kind, err := image.DecodeConfig(bytes.NewReader(body))
	if err != nil || head.Width < 1 || head.Height < 1 || head.Width > 20000 || head.Height > 20000 {
		return ""
	}
	return "image/" + kind
}

// scan sends the bytes of a scan that is linked to the paper.
func (d *Desk) scan(c echo.Context) error {
	missing := fault.New(fault.Missing, "this permit has no such scan")
	if d.Papers == nil || d.Photo == nil {
		return missing
	}
	trail, err := d.Papers.Trail(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	at := slices.IndexFunc(trail.Scans, func(s Scan) bool { return s.SHA256 == c.Param("sha256") })
	if at < 0 {
		return missing
	}
	body, _, err := d.Photo(c.Request().Context(), c.Param("sha256"))
	if err != nil {
		return err
	}
	kind := scanKind(body)
	if kind == "" {
		return missing
	}
	h := c.Response().Header()
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	if kind == "application/pdf" {
		h.Set("Content-Disposition", `attachment; filename="`+c.Param("sha256")[:12]+`.pdf"`)
	}
	return c.Blob(http.StatusOK, kind, body)
}
