package printed

// col is a column of a table: its heading, its share of the width, and whether
// it holds numbers.
type col struct {
	head   string
	share  float64
	number bool
}

// row is one row of a table. Sums are set bold above a rule.
type row struct {
	cells []string
	sum   bool
}

// grid is a table while it is set.
type grid struct {
	*sheet
	cols []col
	at   []float64 // left edges
	wide []float64
}

const gutter = 3.0

// table sets blocks of rows under one heading, which stands again on every
// further page. A block stays on one page if it fits on one.
func (s *sheet) table(cols []col, blocks ...[]row) {
	g := &grid{sheet: s, cols: cols}
	all := 0.0
	for _, c := range cols {
		all += c.share
	}
	x := left
	for _, c := range cols {
		w := s.width * c.share / all
		g.at, g.wide = append(g.at, x), append(g.wide, w-gutter)
		x += w
	}
	g.wide[len(cols)-1] += gutter
	first := 0.0
	if len(blocks) > 0 {
		first = min(g.height(blocks[0]), 30)
	}
	s.room(8 + first)
	g.heading()
	for _, b := range blocks {
		if h := g.height(b); h > s.bottom-s.pdf.GetY() && h < s.bottom-top-10 {
			g.turn()
		}
		for i, r := range b {
			need := g.tall(r)
			if i == len(b)-2 && b[i+1].sum { // the last line stays with its sum
				need += g.tall(b[i+1])
			}
			if s.pdf.GetY()+need > s.bottom {
				g.turn()
			}
			g.set(r)
		}
	}
	s.gap(2)
}

// turn begins a new page with the heading of the table.
func (g *grid) turn() {
	g.pdf.AddPage()
	g.pdf.SetY(top)
	g.heading()
}

func (g *grid) heading() {
	g.face("text", "", 8)
	y, h := g.pdf.GetY(), 0.0
	for i, c := range g.cols {
		h = max(h, g.cell(i, y, c.head))
	}
	g.rule(y+h+0.6, 0.3)
	g.pdf.SetY(y + h + 1)
}

func (g *grid) rule(y, thick float64) {
	g.pdf.SetLineWidth(thick)
	g.pdf.Line(left, y, left+g.width, y)
}

// cell sets one cell and returns its height.
func (g *grid) cell(i int, y float64, text string) float64 {
	align := "L"
	if g.cols[i].number {
		align = "R"
	}
	lines := g.wrap(text, g.wide[i])
	for n, l := range lines {
		g.pdf.SetXY(g.at[i], y+float64(n)*g.line())
		g.pdf.CellFormat(g.wide[i], g.line(), l, "", 0, align, false, 0, "")
	}
	return float64(len(lines)) * g.line()
}

func (g *grid) style(r row) {
	style := ""
	if r.sum {
		style = "B"
	}
	g.face("text", style, 9)
}

// tall is how high a row becomes.
func (g *grid) tall(r row) float64 {
	g.style(r)
	n := 1
	for i, c := range r.cells {
		n = max(n, len(g.wrap(c, g.wide[i])))
	}
	h := float64(n)*g.line() + 0.6
	if r.sum {
		h += 1.6
	}
	return h
}

func (g *grid) height(b []row) (h float64) {
	for _, r := range b {
		h += g.tall(r)
	}
	return h
}

func (g *grid) set(r row) {
	y, h := g.pdf.GetY(), g.tall(r)
	g.style(r)
	at := y
	if r.sum {
		g.rule(y+0.3, 0.15)
		at += 0.8
	}
	for i, c := range r.cells {
		g.cell(i, at+0.3, c)
	}
	if r.sum {
		g.rule(y+h-0.2, 0.3)
	}
	g.pdf.SetY(y + h)
}
