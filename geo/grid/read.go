package grid

import (
	"strings"

	"wayfall/geo"
)

const notSquare = "a square is written as zone, band, two letters and as many digits east as north, such as 16TEN8412312345"

// head reads zone and band.
func head(text string) (zone int, band byte, rest string, err error) {
	text = strings.ToUpper(strings.Join(strings.Fields(text), ""))
	i := 0
	for i < len(text) && i < 3 && text[i] >= '0' && text[i] <= '9' {
		zone = 10*zone + int(text[i]-'0')
		i++
	}
	if i == 0 || i == 3 || i >= len(text) || !letter(text[i]) {
		return 0, 0, "", geo.Errorf(geo.NotUnderstood, notSquare)
	}
	band = text[i]
	if len(text) < i+3 || !letter(text[i+1]) || !letter(text[i+2]) || len(text) > i+3 && letter(text[i+3]) {
		return 0, 0, "", geo.Errorf(geo.NotUnderstood, notSquare)
	}
	if zone < 1 || zone > 60 {
		return 0, 0, "", geo.Invalidf("there is no zone %d; zones run from 1 to 60", zone)
	}
	if _, _, ok := bandEnds(band); !ok {
		return 0, 0, "", geo.Invalidf("there is no band %c; bands run from C to X without I and O", band)
	}
	return zone, band, text[i+1:], nil
}

func letter(c byte) bool { return c >= 'A' && c <= 'Z' }

// letterPair reads column and row of the 100 km square, counted from the
// zone's first column and from a row whose northing is a whole 2,000 km.
func letterPair(zone int, text string) (column, row int, err error) {
	set := columns[8*((zone-1)%3) : 8*((zone-1)%3)+8]
	column = strings.IndexByte(set, text[0])
	if column < 0 {
		return 0, 0, geo.Invalidf("zone %d has no column %c; its columns are %c to %c without I and O", zone, text[0], set[0], set[7])
	}
	row = strings.IndexByte(rows, text[1])
	if row < 0 {
		return 0, 0, geo.Invalidf("there is no row %c; rows run from A to V without I and O", text[1])
	}
	if zone%2 == 0 {
		row = (row + len(rows) - 5) % len(rows) // the rows of even zones begin with F
	}
	return column, row, nil
}

// numbers reads the digits behind the letters: half of them east, half north.
func numbers(text string) (east, north, of geo.Metres, err error) {
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return 0, 0, 0, geo.Errorf(geo.NotUnderstood, notSquare)
		}
	}
	if len(text)%2 == 1 {
		return 0, 0, 0, geo.Invalidf("%d digits do not divide into as many east as north", len(text))
	}
	n := len(text) / 2
	if n > finest {
		return 0, 0, 0, geo.Invalidf("%d digits are too many; five east and five north make a metre", len(text))
	}
	count := func(digits string) geo.Metres {
		sum := 0
		for i := range len(digits) {
			sum = 10*sum + int(digits[i]-'0')
		}
		return geo.Metres(float64(sum*pow10(finest-n)) / 1000)
	}
	return count(text[:n]), count(text[n:]), side(n), nil
}
