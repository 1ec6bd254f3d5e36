package web

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/sync/record"
)

// degreeMetres is the length of a degree of latitude on the sphere of the
// earth's mean radius (6,371,009 m), good to half a per cent: enough to draw a
// picture, never used to reckon.
const degreeMetres = 111195.0

// halfSide is how much to show around a place, in degrees of latitude: the
// circle must be visible, and so must a county line nearby.
func halfSide(radius float64) float64 {
	return min(2, max(0.16, 2.5*radius/degreeMetres))
}

// drawing is the map without scripts: borders, the point and its circle.
func (d *Desk) drawing(g record.Georeference) template.HTML {
	if !g.Known || math.Abs(g.Lat) > 85 {
		return ""
	}
	const wide, high = 440.0, 300.0
	half := halfSide(g.Radius)
	scale := high / 2 / half // pixels for a degree of latitude
	narrow := math.Cos(g.Lat * math.Pi / 180)
	x := func(lon float64) float64 { return wide/2 + (lon-g.Lon)*narrow*scale }
	y := func(lat float64) float64 { return high/2 - (lat-g.Lat)*scale }
	var s strings.Builder
	fmt.Fprintf(&s, `<svg viewBox="0 0 %g %g" role="img" aria-label="Map: %s">`, wide, high, template.HTMLEscapeString(catalogue.PlaceText(g)))
	if d.Outlines != nil {
		for _, o := range d.Outlines.Near(g.Lat, g.Lon, half*2) {
			border(&s, o, x, y)
		}
	}
	fmt.Fprintf(&s, `<circle class="circle" cx="%g" cy="%g" r="%.1f"/><circle class="dot" cx="%g" cy="%g" r="4"/>`,
		wide/2, high/2, max(6, g.Radius/degreeMetres*scale), wide/2, high/2)
	bar := niceMetres(half * degreeMetres / 2)
	length := bar / degreeMetres * scale
	fmt.Fprintf(&s, `<path d="M16 %g h%.1f" stroke="currentColor" stroke-width="2"/><text x="16" y="%g">%s</text></svg>`,
		high-14, length, high-20, catalogue.Metres(bar))
	return template.HTML(s.String())
}

func border(s *strings.Builder, o Outline, x, y func(float64) float64) {
	s.WriteString(`<path class="land"`)
	if o.State {
		s.WriteString(` stroke-width="2.4"`)
	}
	s.WriteString(` d="`)
	for _, line := range o.Lines {
		for i, p := range line {
			letter := byte('L')
			if i == 0 {
				letter = 'M'
			}
			fmt.Fprintf(s, "%c%.1f %.1f", letter, x(p[0]), y(p[1]))
		}
	}
	s.WriteString(`"><title>` + template.HTMLEscapeString(o.Name) + `</title></path>`)
}

// niceMetres rounds down to 1, 2 or 5 times a power of ten.
func niceMetres(m float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(m)))
	switch {
	case m >= 5*p:
		return 5 * p
	case m >= 2*p:
		return 2 * p
	}
	return p
}

// lines answers the borders near a place for the map with scripts.
func (d *Desk) lines(c echo.Context) error {
	lat, errLat := strconv.ParseFloat(c.QueryParam("lat"), 64)
	lon, errLon := strconv.ParseFloat(c.QueryParam("lon"), 64)
	radius, errRadius := strconv.ParseFloat(c.QueryParam("radius"), 64)
	if errLat != nil || errLon != nil || errRadius != nil || !(math.Abs(lat) <= 90 && math.Abs(lon) <= 180 && radius >= 0) {
		return fault.New(fault.Invalid, "a map needs lat, lon and radius")
	}
	near := []Outline{}
	if d.Outlines != nil {
		near = append(near, d.Outlines.Near(lat, lon, halfSide(radius)*3)...)
	}
	c.Response().Header().Set("Cache-Control", "private, max-age=86400")
	return c.JSON(http.StatusOK, near)
}
