package notation

import (
	"math"
	"strconv"
	"strings"

	"wayfall/geo"
	"wayfall/geo/grid"
)

// squareForm reads a square of the Military Grid Reference System. The point
// is the middle of the square: its digits were cut off, not rounded.
func squareForm(text string) (r Reading, mine bool, err error) {
	s, err := grid.ReadSquare(text)
	if geo.KindOf(err) == geo.NotUnderstood {
		return Reading{}, false, nil
	}
	if err != nil {
		return Reading{}, true, err
	}
	r = Reading{Form: Square, Side: s.Side, Spread: s.Half()}
	r.Point, err = s.Centre()
	return r, true, err
}

// gridText is what a text about eastings and northings says, piece by piece.
type gridText struct {
	named    bool   // the grid is named, or a zone is
	zone     string // digits
	band     byte   // the letter behind the zone
	side     byte   // 'N' or 'S', from a word
	numbers  []string
	labels   []byte // of each number: 'E', 'N' or 0
	expected byte   // label that stands before its number
}

// metreForm reads eastings and northings of the Universal Transverse Mercator
// grid with their zone.
func metreForm(text string) (r Reading, mine bool, err error) {
	g, ok := takeApart(text)
	if !ok || len(g.numbers) != 2 || !g.named && !g.large() {
		return Reading{}, false, nil
	}
	if g.zone == "" {
		return Reading{}, true, geo.Errorf(geo.NotUnderstood, "eastings and northings need their zone before them, such as 16 north 561029 4787097")
	}
	zone, _ := strconv.Atoi(g.zone)
	east, north, err := g.order()
	if err != nil {
		return Reading{}, true, err
	}
	u := grid.UTM{Zone: zone}
	side, zeros := cell(east, north)
	if u.Easting, u.Northing, side, err = padded(east, north, side); err != nil {
		return Reading{}, true, err
	}
	r = Reading{Form: Metres, Side: side, Spread: side * geo.Metres(math.Sqrt2*1.002)}
	if zeros {
		r.Findings = append(r.Findings, geo.Finding{Code: "precision-zeros", Cites: precisionRule,
			Because: "both numbers end in noughts; the noughts may only fill up"})
	}
	return g.place(u, r)
}

// place decides the hemisphere and works out the point.
func (g *gridText) place(u grid.UTM, r Reading) (Reading, bool, error) {
	side := g.side
	switch {
	case side != 0:
	case g.band == 'N':
		side = 'N' // the letter of the north, and of the band north of the equator
	case g.band == 'S':
		inBand, _ := u.Point()
		if grid.BandOf(inBand) == 'S' && u.Northing >= 1_000_000 {
			return Reading{}, true, geo.Errorf(geo.NotUnderstood, "S may mean the south or the band from 32 to 40 degrees north; write south or north")
		}
		side = 'S'
	case g.band != 0:
		side = 'N'
		if g.band < 'N' {
			side = 'S'
		}
	default:
		side = 'N'
		r.Findings = append(r.Findings, geo.Finding{Code: "hemisphere-missing", Cites: practice,
			Because: "nothing says which hemisphere is meant; it was read as north"})
	}
	u.South = side == 'S'
	p, err := u.Point()
	if err != nil {
		return Reading{Findings: turned(u)}, true, err
	}
	if g.band != 0 && g.band != 'N' && g.band != 'S' && grid.BandOf(p) != g.band {
		return Reading{}, true, geo.Invalidf("the numbers lie in band %s, not in band %c", bandName(p), g.band)
	}
	r.Point = p
	return r, true, nil
}

func bandName(p geo.Point) string {
	if b := grid.BandOf(p); b != 0 {
		return string(b)
	}
	return "none"
}

// turned says whether an impossible pair would be possible the other way
// round.
func turned(u grid.UTM) []geo.Finding {
	u.Easting, u.Northing = u.Northing, u.Easting
	p, err := u.Point()
	if err != nil {
		return nil
	}
	return []geo.Finding{{Code: "swapped", Cites: practice,
		Because: "the other way round it would be " + p.String() + "; write the easting first"}}
}

// large: both numbers are too large for degrees.
func (g *gridText) large() bool {
	return len(g.numbers) == 2 && whole(g.numbers[0]) >= 5 && whole(g.numbers[1]) >= 5
}

// whole counts the digits before the point.
func whole(number string) int {
	digits, _, _ := strings.Cut(number, ".")
	return len(digits)
}

// order puts the easting first. Labels decide; without them the easting is
// the one written first.
func (g *gridText) order() (east, north string, err error) {
	a, b := g.labels[0], g.labels[1]
	switch {
	case a != 0 && a == b:
		return "", "", geo.Invalidf("both numbers are called the same")
	case a == 'N' || b == 'E':
		return g.numbers[1], g.numbers[0], nil
	}
	return g.numbers[0], g.numbers[1], nil
}

// cell is the finest place that is written, in metres, and whether noughts at
// the end of both numbers were passed over.
func cell(east, north string) (side geo.Metres, zeros bool) {
	_, a, _ := strings.Cut(east, ".")
	_, b, _ := strings.Cut(north, ".")
	if places := max(len(a), len(b)); places > 0 {
		return geo.Metres(math.Pow10(-places)), false
	}
	n := min(trailing(east), trailing(north))
	return geo.Metres(math.Pow10(n)), n > 0
}

func trailing(number string) int {
	n := 0
	for n < len(number)-1 && number[len(number)-1-n] == '0' {
		n++
	}
	return n
}

// padded fills up numbers that were cut off: a whole easting has six digits
// and a whole northing seven, unless it is near the equator. (Zermoglio et
// al., Georeferencing Quick Reference Guide, GBIF Secretariat 2020, 2.3.2.)
func padded(east, north string, side geo.Metres) (e, n, cell geo.Metres, err error) {
	missing := 6 - whole(east)
	switch {
	case missing < 0 || whole(north) > 7:
		return geo.Metres(value(east)), geo.Metres(value(north)), side, nil
	case missing == 0:
		return geo.Metres(value(east)), geo.Metres(value(north)), side, nil
	case 7-whole(north) != missing || strings.Contains(east+north, "."):
		return 0, 0, 0, geo.Errorf(geo.NotUnderstood, "the easting has %d digits and the northing %d; whole ones have 6 and 7, cut ones lack as many each", whole(east), whole(north))
	}
	fill := geo.Metres(math.Pow10(missing))
	return geo.Metres(value(east)) * fill, geo.Metres(value(north)) * fill, side * fill, nil
}
