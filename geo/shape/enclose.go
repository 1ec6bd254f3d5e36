package shape

import "math"

// enclose is the smallest circle around points (E. Welzl, Lecture Notes in
// Computer Science 555 (1991), 359-370, in its incremental form on the corners
// of the hull; without chance, so that it answers alike every time).
func enclose(points []xy) (centre xy, radius float64) {
	p := shuffled(hull(points))
	for i := range p {
		if within(centre, radius, p[i]) && i > 0 {
			continue
		}
		centre, radius = p[i], 0
		for j := 0; j < i; j++ {
			if within(centre, radius, p[j]) {
				continue
			}
			centre, radius = across(p[i], p[j])
			for k := 0; k < j; k++ {
				if !within(centre, radius, p[k]) {
					centre, radius = around(p[i], p[j], p[k])
				}
			}
		}
	}
	return centre, radius
}

// shuffled visits the corners in steps that leave far-off ones early: a fixed
// order that is as good as a random one for the corners of a hull.
func shuffled(p piece) []xy {
	n := len(p)
	if n < 4 {
		return p
	}
	step := int(float64(n)*0.6180339887) | 1
	for gcd(step, n) != 1 {
		step++
	}
	out := make([]xy, n)
	for i := range out {
		out[i] = p[i*step%n]
	}
	return out
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func within(centre xy, radius float64, p xy) bool {
	return centre.to(p) <= radius*(1+1e-12)+1e-9
}

func across(a, b xy) (xy, float64) {
	c := between(a, b, 0.5)
	return c, math.Max(c.to(a), c.to(b))
}

func around(a, b, c xy) (xy, float64) {
	u, v := b.minus(a), c.minus(a)
	d := 2 * u.cross(v)
	if math.Abs(d) <= 1e-14*(u.dot(u)+v.dot(v)) {
		return widest(a, b, c)
	}
	uu, vv := u.dot(u), v.dot(v)
	o := xy{(v.y*uu - u.y*vv) / d, (u.x*vv - v.x*uu) / d}
	centre := a.plus(o)
	return centre, math.Max(centre.to(a), math.Max(centre.to(b), centre.to(c)))
}

// widest encloses three points in a line.
func widest(a, b, c xy) (centre xy, radius float64) {
	for _, pair := range [...][2]xy{{a, b}, {a, c}, {b, c}} {
		if o, r := across(pair[0], pair[1]); r > radius {
			centre, radius = o, r
		}
	}
	return centre, radius
}
