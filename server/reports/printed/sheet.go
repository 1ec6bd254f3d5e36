package printed

import (
	"bytes"
	"fmt"
	"time"

	"github.com/go-pdf/fpdf"
)

// Paper is a size of sheet.
type Paper string

// The sizes: A4 is 210 × 297 mm (ISO 216), Letter 215.9 × 279.4 mm. The empty
// Paper is A4.
const (
	A4     Paper = "a4"
	Letter Paper = "letter"
)

func (p Paper) size() fpdf.SizeType {
	if p == Letter {
		return fpdf.SizeType{Wd: 215.9, Ht: 279.4}
	}
	return fpdf.SizeType{Wd: 210, Ht: 297}
}

// holes are how far from the middle of the sheet holes are punched: two 80 mm
// apart (ISO 838), or three 108 mm apart (4 1/4 in; common practice).
func (p Paper) holes() []float64 {
	if p == Letter {
		return []float64{-108, 0, 108}
	}
	return []float64{-40, 40}
}

// The measures of a sheet in millimetres. The left margin keeps clear of the
// holes, whose centres stand 12 mm from the edge (ISO 838).
const (
	left, right, top, foot = 25.0, 15.0, 18.0, 24.0
	holeIn                 = 12.0
)

// sheet is a paper while it is set. Its first error stays and is told at the
// end, as fpdf does.
type sheet struct {
	pdf    *fpdf.Fpdf
	paper  Paper
	width  float64 // between the margins
	bottom float64 // of what may be set
	lost   bool    // a letter was printed as its number
}

// begin opens an empty sheet whose foot says what is given there, on every
// page, with its number of pages.
func begin(paper Paper, made time.Time, pages int, notes [3]string) *sheet {
	size := paper.size()
	s := &sheet{paper: paper, width: size.Wd - left - right, bottom: size.Ht - foot}
	s.pdf = fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: size})
	s.pdf.SetCatalogSort(true)
	s.pdf.SetCreationDate(made)
	s.pdf.SetModificationDate(made)
	s.pdf.SetProducer("wayfall", true)
	s.pdf.SetMargins(left, top, right)
	s.pdf.SetAutoPageBreak(false, foot)
	s.pdf.SetCellMargin(0)
	addFaces(s.pdf)
	s.pdf.SetFooterFunc(func() { s.foot(pages, notes) })
	s.pdf.AddPage()
	return s
}

// foot sets what stands below every page, and the marks for the punch.
func (s *sheet) foot(pages int, notes [3]string) {
	p, size := s.pdf, s.paper.size()
	p.SetLineWidth(0.1)
	for _, off := range s.paper.holes() {
		y := size.Ht/2 + off
		p.Line(holeIn-1.5, y, holeIn+1.5, y)
		p.Line(holeIn, y-1.5, holeIn, y+1.5)
	}
	p.SetLineWidth(0.2)
	y := size.Ht - foot + 6
	p.Line(left, y, size.Wd-right, y)
	s.face("text", "", 8)
	s.put(left, y+1.2, s.width-30, notes[0], "L")
	s.put(size.Wd-right-30, y+1.2, 30, fmt.Sprintf("page %d of %d", p.PageNo(), pages), "R")
	s.face("mono", "", 6.5)
	s.put(left, y+5, s.width, notes[1], "L")
	s.face("text", "B", 8)
	s.put(left, y+8.4, s.width, notes[2], "L")
}

func (s *sheet) face(family, style string, points float64) { s.pdf.SetFont(family, style, points) }

// line is the height of a line of the current face.
func (s *sheet) line() float64 { _, unit := s.pdf.GetFontSize(); return unit * 1.35 }

func (s *sheet) clean(text string) string {
	out, lost := printable(text)
	s.lost = s.lost || lost
	return out
}

// put sets one line at a place.
func (s *sheet) put(x, y, w float64, text, align string) {
	s.pdf.SetXY(x, y)
	s.pdf.CellFormat(w, s.line(), s.clean(text), "", 0, align, false, 0, "")
}

// room begins a new page when less than so much is left on this one.
func (s *sheet) room(height float64) {
	if s.pdf.GetY()+height > s.bottom {
		s.pdf.AddPage()
		s.pdf.SetY(top)
	}
}

func (s *sheet) gap(height float64) { s.pdf.SetY(s.pdf.GetY() + height) }

// say sets a paragraph in the current face.
func (s *sheet) say(text string) { s.sayIn(left, s.width, text) }

func (s *sheet) sayIn(x, w float64, text string) {
	for _, l := range s.wrap(text, w) {
		s.room(s.line())
		y := s.pdf.GetY()
		s.pdf.SetXY(x, y)
		s.pdf.CellFormat(w, s.line(), l, "", 0, "L", false, 0, "")
		s.pdf.SetY(y + s.line())
	}
}

// wrap breaks text into lines that fit.
func (s *sheet) wrap(text string, w float64) []string {
	text = s.clean(text)
	if text == "" {
		return []string{""}
	}
	return s.pdf.SplitText(text, w)
}

// head sets a heading with room below for so much of what follows it.
func (s *sheet) head(text string, below float64) {
	s.room(11 + min(below, 120))
	s.gap(5)
	s.face("text", "B", 11.5)
	s.say(text)
	s.gap(1)
	s.face("text", "", 9.5)
}

// small sets a paragraph of explanation.
func (s *sheet) small(text string) {
	s.face("text", "", 8.5)
	s.say(text)
	s.gap(1)
	s.face("text", "", 9.5)
}

// boxed sets a paragraph in a frame.
func (s *sheet) boxed(bold, text string) {
	s.face("text", "", 9.5)
	lines := s.wrap(bold+" "+text, s.width-6)
	h := float64(len(lines))*s.line() + 5
	s.room(h + 3)
	y := s.pdf.GetY()
	s.pdf.SetLineWidth(0.4)
	s.pdf.Rect(left, y, s.width, h, "D")
	s.pdf.SetY(y + 2.5)
	for _, l := range lines {
		s.put(left+3, s.pdf.GetY(), s.width-6, l, "L")
		s.pdf.SetY(s.pdf.GetY() + s.line())
	}
	s.pdf.SetY(y + h + 3)
}

// facts sets a list of terms and what they are.
func (s *sheet) facts(all [][2]string) {
	const term = 38.0
	for _, f := range all {
		s.face("text", "", 9.5)
		h := float64(len(s.wrap(f[1], s.width-term))) * s.line()
		s.room(h)
		y := s.pdf.GetY()
		s.put(left, y, term-3, f[0], "L")
		s.pdf.SetY(y)
		s.sayIn(left+term, s.width-term, f[1])
		s.gap(0.6)
	}
}

// bytes ends the paper.
func (s *sheet) bytes() ([]byte, int, error) {
	var out bytes.Buffer
	err := s.pdf.Output(&out)
	return out.Bytes(), s.pdf.PageCount(), err
}
