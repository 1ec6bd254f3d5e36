package grid

import (
	"math"
	"strings"

	"wayfall/geo"
)

// Square is a square of the Military Grid Reference System, from 100 km down
// to a millimetre: its south-west corner and its side. The zero Square is
// unknown. Letters and bands: DMA Technical Manual 8358.1, 1990, chapter 3,
// and FGDC-STD-011-2001.
type Square struct {
	Corner UTM
	Side   geo.Metres
	Band   byte // C to X without I and O: eight degrees of latitude, X twelve
}

const (
	bands   = "CDEFGHJKLMNPQRSTUVWX"
	rows    = "ABCDEFGHJKLMNPQRSTUV"
	columns = "ABCDEFGHJKLMNPQRSTUVWXYZ"

	hundred = 100_000 // metres
	finest  = 8       // digits a number: millimetres
)

// SquareOf returns the square that a place lies in, written with so many
// digits each way: 0 is 100 km, 5 a metre, 8 a millimetre.
func SquareOf(p geo.Point, digits int) (Square, error) {
	if digits < 0 || digits > finest {
		return Square{}, geo.Invalidf("squares are written with 0 to %d digits each way, not %d", finest, digits)
	}
	u, err := Of(p)
	if err != nil {
		return Square{}, err
	}
	s := Square{Corner: u, Side: side(digits), Band: BandOf(p)}
	s.Corner.Easting, s.Corner.Northing = down(u.Easting, digits), down(u.Northing, digits)
	if u.South && s.Corner.Northing == southing {
		s.Corner.Northing -= s.Side // just south of the equator
	}
	return s, nil
}

// down cuts off what is finer than the digits. A place on a line belongs to
// the square east and north of it, though the sums may fall a millionth short.
func down(m geo.Metres, digits int) geo.Metres {
	cell := int64(pow10(finest - digits))
	return geo.Metres(float64(int64(math.Floor(float64(m)*1000+1e-3))/cell*cell) / 1000)
}

// side is the length of a square with so many digits.
func side(digits int) geo.Metres {
	return geo.Metres(float64(pow10(finest-digits)) / 1000)
}

// BandOf returns the letter of the band of latitude, or 0 where there is none.
func BandOf(p geo.Point) byte {
	if ZoneOf(p) == 0 {
		return 0
	}
	return bands[min(len(bands)-1, int(math.Floor(float64(p.Lat()-southEnd)/8)))]
}

// bandEnds are the latitudes between which a band lies.
func bandEnds(band byte) (from, to float64, ok bool) {
	i := strings.IndexByte(bands, band)
	if i < 0 {
		return 0, 0, false
	}
	from, to = float64(southEnd+8*i), float64(southEnd+8*i+8)
	if band == 'X' {
		to = northEnd
	}
	return from, to, true
}

// digitsOf is how many digits each number of a square of the side has.
func digitsOf(of geo.Metres) (int, bool) {
	for n := 0; n <= finest; n++ {
		if side(n) == of {
			return n, true
		}
	}
	return 0, false
}

// Centre returns the middle of the square.
func (s Square) Centre() (geo.Point, error) {
	u := s.Corner
	u.Easting += s.Side / 2
	u.Northing += s.Side / 2
	return u.Point()
}

// Half returns half the diagonal on the ground: a circle of this radius around
// the centre holds the square. The grid's scale differs from the ground's by
// less than 1 part in 500 where it is used, which is added.
func (s Square) Half() geo.Metres { return s.Side * geo.Metres(math.Sqrt2/2*1.002) }

// letters returns column and row of the 100 km square.
func letters(u UTM) (column, row byte) {
	set := (u.Zone - 1) % 3
	i := int(u.Easting)/hundred - 1
	j := int(u.Northing) / hundred
	if u.Zone%2 == 0 {
		j += 5
	}
	return columns[8*set+i], rows[j%20]
}

// String writes the square without spaces, such as "16TEN8412312345", or
// "unknown".
func (s Square) String() string {
	digits, ok := digitsOf(s.Side)
	if !ok || s.Corner.Zone == 0 || s.Corner.Easting < hundred || s.Corner.Easting >= 9*hundred || s.Corner.Northing < 0 {
		return "unknown"
	}
	column, row := letters(s.Corner)
	b := append(two(s.Corner.Zone), s.Band, column, row)
	for _, m := range [...]geo.Metres{s.Corner.Easting, s.Corner.Northing} {
		millimetres := int(math.Round(float64(m)*1000)) % pow10(finest)
		for n := range digits {
			b = append(b, byte('0'+millimetres/pow10(finest-1-n)%10))
		}
	}
	return string(b)
}

func two(n int) []byte { return []byte{byte('0' + n/10), byte('0' + n%10)} }

func pow10(n int) int {
	out := 1
	for range n {
		out *= 10
	}
	return out
}

// ReadSquare reads a square, with or without spaces, in capitals or not. An
// error is of kind NotUnderstood when the text is not a square, and of kind
// Invalid when it is one that cannot be. The row letters come round every
// 2,000 km; the band says which is meant, and the row of a square that reaches
// over the edge of a band may be written with either band.
func ReadSquare(text string) (Square, error) {
	zone, band, rest, err := head(text)
	if err != nil {
		return Square{}, err
	}
	column, row, err := letterPair(zone, rest)
	if err != nil {
		return Square{}, err
	}
	east, north, of, err := numbers(rest[2:])
	if err != nil {
		return Square{}, err
	}
	s := Square{Side: of, Band: band, Corner: UTM{Zone: zone, South: band < 'N', Easting: geo.Metres(hundred*(column+1)) + east}}
	for j := row; j < 100; j += len(rows) {
		s.Corner.Northing = geo.Metres(j*hundred) + north
		if s.reaches(band) {
			return s, nil
		}
	}
	return Square{}, geo.Invalidf("square %s does not lie in band %c of zone %d", rest[:2], band, zone)
}

// reaches tells whether any of the 100 km square around the corner lies in the
// band and the square has a place on the Earth.
func (s Square) reaches(band byte) bool {
	from, to, _ := bandEnds(band)
	u := s.Corner
	u.Easting = geo.Metres(math.Floor(float64(u.Easting)/hundred) * hundred)
	u.Northing = geo.Metres(math.Floor(float64(u.Northing)/hundred) * hundred)
	low, high := math.Inf(1), math.Inf(-1)
	for _, d := range [...][2]geo.Metres{{0, 0}, {hundred, 0}, {0, hundred}, {hundred, hundred}, {hundred / 2, 0}, {hundred / 2, hundred}} {
		c := u
		c.Easting, c.Northing = min(900_000, u.Easting+d[0]), u.Northing+d[1]
		p, err := c.Point()
		if err != nil {
			continue
		}
		low, high = math.Min(low, float64(p.Lat())), math.Max(high, float64(p.Lat()))
	}
	return low < to && high > from
}
