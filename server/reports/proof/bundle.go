package proof

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/reports"
)

// Book is what is read of the animals; catalogue.Book is one.
type Book interface {
	Takes(ctx context.Context, authority string) ([]catalogue.Take, catalogue.Place, error)
	Animal(ctx context.Context, id string) (catalogue.AnimalSheet, error)
	Find(ctx context.Context, id string) (catalogue.FindSheet, error)
}

// Office is what is read of the authorities; reports.Office is one.
type Office interface {
	Permit(ctx context.Context, id string, today permits.Date) (reports.PermitSheet, error)
}

// Needs is everything a bundle stands on. Name, Device and Photo may be nil.
type Needs struct {
	Book        Book
	Office      Office
	Institution string
	Zone        *time.Location
	Name        func(person string) string // what people call somebody
	Device      func(id string) string     // what people call a device
	Photo       func(ctx context.Context, sha256 string) (bytes []byte, mediaType string, err error)
}

// Asked is what the bundle is about: animals taken under the authority from
// one day to another, both included; an unknown end is open. Day is the day on
// which it is drawn up.
type Asked struct {
	Authority string
	From, To  permits.Date
	Day       permits.Date
	Sample    int    // how many animals to draw for looking them up; 0 draws none
	Seed      string // decides which
}

// Bundle is one bundle that can be written.
type Bundle struct {
	Needs
	Asked
	sheet reports.PermitSheet
	takes []catalogue.Take
	place catalogue.Place
}

// Open looks up what belongs into a bundle, so that a question that cannot be
// answered is refused before anything is written.
func Open(ctx context.Context, n Needs, a Asked) (*Bundle, error) {
	if a.From.Known() && a.To.Known() && a.To < a.From {
		return nil, fault.New(fault.Invalid, "the last day lies before the first").At("/to", a.To.String())
	}
	if a.Sample < 0 || a.Sample > Most || a.Sample > 0 && a.Seed == "" || len(a.Seed) > 64 {
		return nil, fault.New(fault.Invalid, "a sample is of 1 to %d animals and takes a seed of 1 to 64 letters", Most).At("/sample", fmt.Sprint(a.Sample))
	}
	if n.Zone == nil {
		n.Zone = time.UTC
	}
	b := &Bundle{Needs: n, Asked: a}
	var err error
	if b.sheet, err = n.Office.Permit(ctx, a.Authority, a.Day); err != nil {
		return nil, err
	}
	all, place, err := n.Book.Takes(ctx, a.Authority)
	if err != nil {
		return nil, err
	}
	b.place = place
	for _, t := range all {
		known := t.Day.Known()
		if !t.Under(a.Authority) || known && a.From.Known() && t.Day < a.From || known && a.To.Known() && t.Day > a.To {
			continue
		}
		b.takes = append(b.takes, t)
	}
	return b, nil
}

// archive is a zip while it is written, with the digest of every file.
type archive struct {
	zip  *zip.Writer
	made time.Time
	sums strings.Builder
}

func (a *archive) add(name string, data []byte) error {
	method := zip.Deflate
	if strings.Contains(name, "/photos/") {
		method = zip.Store // pictures are compressed already
	}
	w, err := a.zip.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: a.made})
	if err != nil {
		return err
	}
	sum := sha256.Sum256(data)
	fmt.Fprintf(&a.sums, "%s  %s\n", hex.EncodeToString(sum[:]), name)
	_, err = w.Write(data)
	return err
}

func (a *archive) json(name string, v any) error {
	text, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	return a.add(name, append(text, '\n'))
}

// Write writes the bundle, one animal after the other.
func (b *Bundle) Write(ctx context.Context, w io.Writer) error {
	a := &archive{zip: zip.NewWriter(w), made: time.UnixMilli(b.place.AtMS).UTC()}
	front := b.front()
	papers := papers{bundle: b, sheets: map[string]reports.PermitSheet{b.Authority: b.sheet}}
	for i := range b.takes {
		if err := ctx.Err(); err != nil {
			return err
		}
		one, err := b.animal(ctx, a, &papers, i)
		if err != nil {
			return err
		}
		front.Animals = append(front.Animals, one)
	}
	if err := papers.write(a, front); err != nil {
		return err
	}
	if b.Sample > 0 {
		front.HasSample = true
		page, err := render("sample", b.sampled(front.Animals))
		if err != nil {
			return err
		}
		if err := a.add("sample.html", page); err != nil {
			return err
		}
	}
	page, err := render("index", front)
	if err != nil {
		return err
	}
	if err := a.add("index.html", page); err != nil {
		return err
	}
	sums := a.sums.String()
	if err := a.add("SHA256SUMS", []byte(sums)); err != nil {
		return err
	}
	return a.zip.Close()
}

// papers are the authorities that the animals of a bundle rely on.
type papers struct {
	bundle *Bundle
	sheets map[string]reports.PermitSheet // zero: no such paper is kept here
	order  []string
}

func (p *papers) of(ctx context.Context, id string) (reports.PermitSheet, bool, error) {
	sheet, asked := p.sheets[id]
	if !asked {
		var err error
		sheet, err = p.bundle.Office.Permit(ctx, id, p.bundle.Day)
		if err != nil && !fault.Is(err, fault.Missing) {
			return sheet, false, err
		}
		p.sheets[id] = sheet
		p.order = append(p.order, id)
	}
	return sheet, sheet.ID != "", nil
}

// write writes every edition of every paper.
func (p *papers) write(a *archive, front *front) error {
	for _, id := range append([]string{p.bundle.Authority}, p.order...) {
		sheet := p.sheets[id]
		for i := len(sheet.Versions) - 1; i >= 0; i-- {
			v := sheet.Versions[i]
			file := fmt.Sprintf("papers/%s-edition-%d-from-%s.json", safe(id), v.Version, or(v.From.String(), "unknown"))
			if err := a.json(file, v.Authority); err != nil {
				return err
			}
			front.Papers = append(front.Papers, edition{Name: sheet.Name, ID: id, Number: v.Number, Version: v.Version, From: day(v.From), Until: day(v.Until),
				Status: string(v.Status), Persons: p.bundle.persons(v.Persons), File: file, Anybody: v.AnyPerson})
		}
	}
	return nil
}

func or(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

// safe keeps the letters of a name that every file system takes.
func safe(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		}
		return '-'
	}, name)
}

func day(d permits.Date) string {
	if !d.Known() {
		return ""
	}
	return catalogue.DayText(d.String())
}
