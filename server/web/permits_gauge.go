package web

import (
	"fmt"
	"html/template"
	"strings"
	"unicode"
	"unicode/utf8"

	"wayfall/server/reports"
)

// holder is somebody whose phone holds units of a number.
type holder struct {
	Name string
	N    int
	Gone string // why the phone may not use them any more, "" when it may
}

// initials are up to two letters of a name, to stand in a square.
func (h holder) initials() string {
	var out []rune
	for word := range strings.FieldsFuncSeq(h.Name, func(r rune) bool { return unicode.IsSpace(r) || r == '-' }) {
		if r, _ := utf8.DecodeRuneInString(word); unicode.IsLetter(r) && len(out) < 2 {
			out = append(out, unicode.ToUpper(r))
		}
	}
	return string(out)
}

// The largest numbers that are drawn as one row, as rows of ten, and as a
// sheet of small squares in rows of twenty-five. Larger ones are a bar.
const (
	oneRow   = 12
	rowsOf10 = 40
	aSheet   = 400
)

// mesh is how the squares of a number stand.
type mesh struct {
	across      int     // squares in a row
	pitch, cell float64 // from square to square, and its side
	small       bool
}

func meshFor(n int) mesh {
	switch {
	case n <= oneRow:
		return mesh{across: max(n, 1), pitch: 28, cell: 24}
	case n <= rowsOf10:
		return mesh{across: 10, pitch: 28, cell: 24}
	}
	return mesh{across: 25, pitch: 12, cell: 10, small: true}
}

// at is the corner of the n-th square; on a sheet a gap follows every fifth
// square and every hundredth.
func (m mesh) at(n int) (x, y float64) {
	col, row := n%m.across, n/m.across
	x, y = 1+float64(col)*m.pitch, 1+float64(row)*m.pitch
	if m.small {
		x, y = x+float64(col/5*4), y+float64(row/4*4)
	}
	return x, y
}

func (m mesh) width(n int) float64 {
	x, _ := m.at(min(n, m.across) - 1)
	return x + m.cell + 1
}

func (m mesh) height(n int) float64 {
	_, y := m.at(n - 1)
	return y + m.cell + 1
}

// gauge draws a number as a picture: a solid square for each animal taken, a
// hatched one with the holder's letters for each that a phone may still take,
// an empty one for each that is free, and behind the edge a marked one for each
// beyond the number. Every kind has a form of its own; colour only helps.
// href is where the shares are told in words, "" for nowhere.
func gauge(b reports.Balance, who []holder, href string) template.HTML {
	d := drawn{b: b, who: namedShares(b.Lent, who), href: href}
	switch {
	case b.Unlimited:
		return template.HTML(`<span class="quiet">The paper states no ceiling.</span>`)
	case b.Limit+b.Over == 0:
		return template.HTML(`<span class="quiet">The number is nought: none may be taken.</span>`)
	case max(b.Limit, b.Over) > aSheet:
		return d.bar()
	}
	return d.squares()
}

// namedShares gives every lent unit a holder; what nobody is named for is lent
// to a phone that is not listed.
func namedShares(lent int, who []holder) []holder {
	var out []holder
	for _, h := range who {
		if h.N = min(h.N, lent); h.N > 0 {
			out, lent = append(out, h), lent-h.N
		}
	}
	if lent > 0 {
		out = append(out, holder{Name: "a phone that is not listed", N: lent})
	}
	return out
}

type drawn struct {
	strings.Builder
	b    reports.Balance
	who  []holder
	href string
}

func (d *drawn) put(format string, args ...any) { fmt.Fprintf(d, format, args...) }

// begin opens the picture with its words for those who do not see it.
func (d *drawn) begin(class string, wide, high float64) {
	d.put(`<svg class="gauge %s" viewBox="0 0 %g %g" width="%g" height="%g" role="group" aria-label="%s">`,
		class, wide, high, wide, high, template.HTMLEscapeString(inWords(d.b)))
}

// inWords says what the picture shows.
func inWords(b reports.Balance) string {
	s := fmt.Sprintf("%d taken, %d lent, %d free of %d", b.Used, b.Lent, b.Free, b.Limit)
	if b.Over > 0 {
		s += fmt.Sprintf(", %d over", b.Over)
	}
	return s
}

func (d *drawn) squares() template.HTML {
	m := meshFor(d.b.Limit)
	beside := d.b.Limit <= oneRow && d.b.Limit+d.b.Over <= oneRow+1
	high, wide := m.height(max(d.b.Limit, 1)), m.width(d.b.Limit)
	overX, overY := 0.0, high+8
	over := m
	switch {
	case d.b.Over == 0:
	case beside:
		over.across = d.b.Over
		overX, overY = wide+10, 0
		wide = overX + over.width(d.b.Over)
	default:
		over = meshFor(max(d.b.Over, oneRow+1))
		wide = max(wide, over.width(d.b.Over))
		high = overY + over.height(d.b.Over)
	}
	class := ""
	if m.small || over.small {
		class = "sheet"
	}
	d.begin(class, wide, high)
	d.within(m)
	if d.b.Over > 0 {
		d.beyond(over, overX, overY, wide, beside)
	}
	d.put(`</svg>`)
	return template.HTML(d.String())
}

// within draws what the number holds, square by square.
func (d *drawn) within(m mesh) {
	n := 0
	for range d.b.Used {
		d.one(m, n, "used")
		n++
	}
	for _, h := range d.who {
		d.share(h)
		for range h.N {
			d.one(m, n, "lent")
			d.hatch(m, n, h)
			n++
		}
		d.shareEnd()
	}
	for range d.b.Free {
		d.one(m, n, "free")
		n++
	}
}

func (d *drawn) one(m mesh, n int, class string) {
	x, y := m.at(n)
	inset := 0.0
	if class != "used" {
		inset = 0.75
	}
	d.put(`<rect class="g-%s" x="%g" y="%g" width="%g" height="%g" rx="%g"/>`, class, x+inset, y+inset, m.cell-2*inset, m.cell-2*inset, m.cell/5)
}

// share opens the squares of one holder: a link to the words about it.
func (d *drawn) share(h holder) {
	title := template.HTMLEscapeString(fmt.Sprintf("%d lent to %s", h.N, h.Name))
	if d.href == "" {
		d.put(`<g class="share"><title>%s</title>`, title)
		return
	}
	d.put(`<a class="share" href="%s" aria-label="%s"><title>%s</title>`, template.HTMLEscapeString(d.href), title, title)
}

func (d *drawn) shareEnd() {
	if d.href == "" {
		d.put(`</g>`)
		return
	}
	d.put(`</a>`)
}

// hatch strikes a lent square and writes whose it is, where there is room.
func (d *drawn) hatch(m mesh, n int, h holder) {
	x, y := m.at(n)
	c := m.cell
	if m.small {
		d.put(`<path class="g-hatch" d="M%g %gL%g %gM%g %gL%g %g"/>`, x+1.5, y+c-1.5, x+c-1.5, y+1.5, x+1.5, y+c/2, x+c/2, y+1.5)
		return
	}
	d.put(`<path class="g-hatch" d="M%g %gl%g %gM%g %gl%g %gM%g %gl%g %g"/>`,
		x+2, y+c/3, c/3-2, 2-c/3, x+2, y+c-2, c-4, 4-c, x+c*2/3, y+c-2, c/3-2, 2-c/3)
	if text := h.initials(); text != "" {
		d.put(`<text class="g-who" x="%g" y="%g">%s</text>`, x+c/2, y+c/2+4, template.HTMLEscapeString(text))
	}
}

// beyond draws the edge of the number and what lies behind it.
func (d *drawn) beyond(m mesh, x, y, wide float64, beside bool) {
	if beside {
		d.put(`<path class="g-edge" d="M%g 0v26"/>`, x-5)
	} else {
		d.put(`<path class="g-edge" d="M0 %gh%g"/>`, y-4, wide)
	}
	d.put(`<g class="beyond"><title>%d over the number</title>`, d.b.Over)
	for n := range d.b.Over {
		left, top := m.at(n)
		left, top = left+x, top+y
		c, k := m.cell, m.cell*0.29
		d.put(`<path class="g-over" d="M%g %gh%gl%g %gv%gl%g %gh%gl%g %gv%gz"/>`, left+k, top, c-2*k, k, k, c-2*k, -k, k, 2*k-c, -k, -k, 2*k-c)
		d.put(`<path class="g-bang" d="M%g %gv%gM%g %gv%g"/>`, left+c/2, top+c*.22, c*.34, left+c/2, top+c*.68, c*.12)
	}
	d.put(`</g>`)
}

// bar draws a number too large for squares, with ticks to read it by.
func (d *drawn) bar() template.HTML {
	const long, high = 320.0, 46.0
	whole := float64(d.b.Limit + d.b.Over)
	x := func(n int) float64 { return 1 + float64(n)/whole*(long-2) }
	d.begin("long", long, high)
	d.put(`<rect class="g-free" x="1" y="1" width="%.2f" height="20" data-n="%d"/>`, x(d.b.Limit)-1, d.b.Free)
	d.put(`<rect class="g-used" x="1" y="1" width="%.2f" height="20" data-n="%d"/>`, x(d.b.Used)-1, d.b.Used)
	n := d.b.Used
	for _, h := range d.who {
		d.share(h)
		from, to := x(n), x(n+h.N)
		d.put(`<rect class="g-lent" x="%.2f" y="1.75" width="%.2f" height="18.5" data-n="%d"/><path class="g-hatch" d="`, from, to-from, h.N)
		for at := from; at+6 <= to; at += 6 {
			d.put(`M%.2f 20l6-18`, at)
		}
		d.put(`"/>`)
		d.shareEnd()
		n += h.N
	}
	if d.b.Over > 0 {
		d.put(`<g class="beyond"><title>%d over the number</title><rect class="g-over" x="%.2f" y="1" width="%.2f" height="20" data-n="%d"/></g>`, d.b.Over, x(d.b.Limit)+1, max(2, x(d.b.Limit+d.b.Over)-x(d.b.Limit)-2), d.b.Over)
		d.put(`<path class="g-edge" d="M%.2f 0v26"/>`, x(d.b.Limit))
	}
	for step, at := tickOf(d.b.Limit), 0; at <= d.b.Limit; at += step {
		anchor := "middle"
		switch {
		case at == 0:
			anchor = "start"
		case x(at) > long-14:
			anchor = "end"
		}
		d.put(`<path class="g-tick" d="M%.2f 22v5"/><text class="g-num" x="%.2f" y="42" text-anchor="%s">%d</text>`, x(at), x(at), anchor, at)
	}
	d.put(`</svg>`)
	return template.HTML(d.String())
}

// tickOf is a round step that gives at most six ticks.
func tickOf(limit int) int {
	for p := 1; ; p *= 10 {
		for _, k := range [...]int{1, 2, 5} {
			if limit/(k*p) <= 5 {
				return k * p
			}
		}
	}
}

// gaugeKey explains the forms, drawn as the gauges draw them.
func gaugeKey() template.HTML {
	const square = `<svg class="gauge" viewBox="0 0 26 26" width="18" height="18" aria-hidden="true">%s</svg>`
	m, d := meshFor(1), &drawn{b: reports.Balance{Over: 1}}
	draw := func(do func()) string {
		d.Reset()
		do()
		return fmt.Sprintf(square, d.String())
	}
	var s strings.Builder
	item := func(picture, words string) { s.WriteString(`<li>` + picture + ` ` + words + `</li>`) }
	s.WriteString(`<ul class="key">`)
	item(draw(func() { d.one(m, 0, "used") }), "taken")
	item(draw(func() { d.one(m, 0, "lent"); d.hatch(m, 0, holder{}) }), "lent to a phone")
	item(draw(func() { d.one(m, 0, "free") }), "free")
	item(draw(func() { d.beyond(m, 0, 0, 0, true) }), "over the number")
	s.WriteString(`</ul>`)
	return template.HTML(s.String())
}
