package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
)

// The page's sign: a tag with its hole, and the tick of a thing written down.
var (
	pine  = color.NRGBA{0x1d, 0x5b, 0x4e, 0xff}
	paper = color.NRGBA{0xff, 0xfd, 0xf8, 0xff}
)

// icons draws the sizes that the manifest and the page name.
func (b builder) icons() error {
	for _, i := range []struct {
		name  string
		edge  int
		inset float64 // share of the edge left free around the tag
		round float64 // share of the edge
	}{
		{"icon-180.png", 180, 0.16, 0},
		{"icon-192.png", 192, 0.16, 0.2},
		{"icon-512.png", 512, 0.16, 0.2},
		{"icon-mask-512.png", 512, 0.26, 0},
	} {
		var buf bytes.Buffer
		if err := png.Encode(&buf, drawIcon(i.edge, i.inset, i.round)); err != nil {
			return fmt.Errorf("%s: %w", i.name, err)
		}
		if err := b.write("field/"+i.name, buf.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// drawIcon samples every pixel four by four, so that edges are smooth.
func drawIcon(edge int, inset, round float64) image.Image {
	const fine = 4
	img := image.NewNRGBA(image.Rect(0, 0, edge, edge))
	for y := range edge {
		for x := range edge {
			var ground, mark int
			for i := range fine * fine {
				u := (float64(x) + (float64(i%fine)+0.5)/fine) / float64(edge)
				v := (float64(y) + (float64(i/fine)+0.5)/fine) / float64(edge)
				if box(u-0.5, v-0.5, 0.5, 0.5, round) <= 0 {
					ground++
					if inSign((u-0.5)/(1-2*inset), (v-0.5)/(1-2*inset)) {
						mark++
					}
				}
			}
			img.SetNRGBA(x, y, blend(ground, mark, fine*fine))
		}
	}
	return img
}

func blend(ground, mark, all int) color.NRGBA {
	if ground == 0 {
		return color.NRGBA{}
	}
	mix := func(a, b uint8) uint8 { return uint8((int(a)*(ground-mark) + int(b)*mark) / ground) }
	return color.NRGBA{mix(pine.R, paper.R), mix(pine.G, paper.G), mix(pine.B, paper.B), uint8(255 * ground / all)}
}

// inSign tells whether a point of the unit square around the origin belongs to
// the tag but not to its hole or its tick.
func inSign(u, v float64) bool {
	tag := math.Max(box(u, v+0.02, 0.34, 0.46, 0.07), (math.Abs(u)-v-0.62)*0.7)
	hole := math.Hypot(u, v+0.3) - 0.065
	tick := math.Min(segment(u, v, -0.17, 0.1, -0.04, 0.23), segment(u, v, -0.04, 0.23, 0.19, -0.06)) - 0.045
	return tag <= 0 && hole > 0 && tick > 0
}

// box is the distance from a rounded rectangle of half sides w and h.
func box(u, v, w, h, r float64) float64 {
	x, y := math.Abs(u)-w+r, math.Abs(v)-h+r
	return math.Hypot(math.Max(x, 0), math.Max(y, 0)) + math.Min(math.Max(x, y), 0) - r
}

// segment is the distance from a stretch of a line.
func segment(u, v, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := math.Max(0, math.Min(1, ((u-ax)*dx+(v-ay)*dy)/(dx*dx+dy*dy)))
	return math.Hypot(u-ax-t*dx, v-ay-t*dy)
}
