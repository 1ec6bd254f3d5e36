package proof

import (
	"bytes"
	"embed"
	"html/template"
	"time"

	"wayfall/server/catalogue"
)

//go:embed index.html animal.html sample.html paper.css
var sources embed.FS

// front is the first page of a bundle.
type front struct {
	Institution, Name, Number, Holder, Issuer string
	From, To, Drawn                           string
	LSN                                       uint64
	AsOf, Head, Notice                        string
	Sample, HasSample                         bool
	Papers                                    []edition
	Animals                                   []line
}

// edition is one edition of a paper.
type edition struct {
	Name, ID, Number string
	Version          int
	From, Until      string
	Status, File     string
	Anybody          bool
	Persons          []listed
}

type listed struct{ Name, Role, From, To string }

// line is one animal on the first page.
type line struct {
	File, Tag, Name, Taxon, Day, Person, Deed, Where, Cover string
	Numbers                                                 []string
	Open, Late, Photos, Missing                             int
	Differs                                                 bool
}

func (b *Bundle) front() *front {
	a := b.sheet.Authority
	f := &front{Institution: b.Institution, Name: b.sheet.Name, Number: a.Number, Holder: b.person(a.Holder), Issuer: a.Issuer, Notice: a.Notice,
		From: or(day(b.From), "the beginning"), To: or(day(b.To), "the end"), Drawn: day(b.Day), LSN: b.place.LSN, Head: b.place.Head, Sample: a.Sample}
	if b.place.AtMS != 0 {
		f.AsOf = catalogue.LocalText(time.UnixMilli(b.place.AtMS).UTC().Format("2006-01-02T15:04")) + " UTC"
	}
	return f
}

func (b *Bundle) line(t *catalogue.Take, d *dossier, file string) line {
	l := line{File: file, Tag: or(t.Tag, "no tag"), Name: d.Name, Taxon: t.Taxon, Day: or(d.Day, "not known"), Person: d.Person, Deed: d.Deed, Where: d.Where,
		Numbers: d.Numbers, Cover: "covered", Differs: len(t.Differs) > 0}
	switch {
	case !t.Taken():
		l.Cover = "not taken"
	case !t.Covered(b.Authority):
		l.Cover = "! not covered"
	}
	for _, x := range d.Duties {
		switch x.State {
		case "open":
			l.Open++
		case "late":
			l.Late++
		}
	}
	for _, p := range d.Photos {
		if p.File == "" {
			l.Missing++
		} else {
			l.Photos++
		}
	}
	return l
}

var pages = template.Must(template.New("").Funcs(template.FuncMap{
	"css": func() (template.CSS, error) {
		text, err := sources.ReadFile("paper.css")
		return template.CSS(text), err
	},
	"short": func(id string) string { return id[:min(8, len(id))] },
	"when": func(text string) string {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			return or(text, "time not kept")
		}
		return catalogue.LocalText(at.Format("2006-01-02T15:04")) + " " + at.Format("-07:00")
	},
}).ParseFS(sources, "*.html"))

func render(name string, v any) ([]byte, error) {
	var out bytes.Buffer
	err := pages.ExecuteTemplate(&out, name+".html", v)
	return out.Bytes(), err
}
