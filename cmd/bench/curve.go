package main

import (
	"bytes"
	"fmt"
	"math"
)

// draw makes one panel of each growth. Both axes are logarithmic, so that a
// straight line at 45 degrees, dashed through the first point, is linear.
func draw(all []growing) []byte {
	const wide, high, gap = 300.0, 300.0, 60.0
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="sans-serif" font-size="11">`+"\n",
		float64(len(all))*(wide+gap)+gap, high+2*gap)
	for i, g := range all {
		first, last := g.points[0], g.points[len(g.points)-1]
		least, most := first.ms, first.ms*last.size/first.size
		for _, p := range g.points {
			least, most = min(least, p.ms), max(most, p.ms)
		}
		decades := max(math.Log10(last.size/first.size), math.Log10(most/least))
		at := func(p point) (x, y float64) {
			return math.Log10(p.size/first.size) / decades * wide, high - math.Log10(p.ms/least)/decades*high
		}
		fmt.Fprintf(&b, `<g transform="translate(%.0f %.0f)"><path d="M0 0V%.0fH%.0f" fill="none" stroke="#888"/>`, gap+float64(i)*(wide+gap), gap, high, wide)
		fmt.Fprintf(&b, `<text y="-24" font-size="13">%s by %s</text><text y="-8">ms; dashed: linear</text>`+"\n", g.what, g.of)
		x0, y0 := at(first)
		x1, y1 := at(point{last.size, first.ms * last.size / first.size})
		fmt.Fprintf(&b, `<path d="M%.1f %.1fL%.1f %.1f" stroke="#888" stroke-dasharray="4"/><polyline fill="none" stroke="#06c" stroke-width="2" points="`, x0, y0, x1, y1)
		for _, p := range g.points {
			x, y := at(p)
			fmt.Fprintf(&b, "%.1f,%.1f ", x, y)
		}
		fmt.Fprint(&b, `"/>`)
		for _, p := range g.points {
			x, y := at(p)
			fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3" fill="#06c"/><text x="%.1f" y="%.1f">%s</text><text x="%.1f" y="%.0f" text-anchor="middle">%.0f</text>`,
				x, y, x+5, y+14, number(p.ms), x, high+32, p.size)
		}
		fmt.Fprint(&b, "</g>\n")
	}
	fmt.Fprint(&b, "</svg>\n")
	return b.Bytes()
}
