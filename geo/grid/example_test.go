package grid_test

import (
	"fmt"

	"wayfall/geo"
	"wayfall/geo/grid"
)

func ExampleSquareOf() {
	p, _ := geo.At(43.2342, -86.2484)
	s, _ := grid.SquareOf(p, 3)
	u, _ := grid.Of(p)
	fmt.Println(s, s.Side)
	fmt.Println(u)
	// Output:
	// 16TEN610870 100
	// 16 north 561029 4787097
}
