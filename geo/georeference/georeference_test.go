package georeference_test

import (
	"fmt"

	"wayfall/geo/georeference"
)

func ExampleOf() {
	r, err := georeference.Of("10.25 km NNE of Ludden", invented, georeference.Options{})
	c := r.Candidates[0]
	fmt.Println(c.Sentence, err)
	fmt.Printf("%.4f, %.4f within %.0f m; the published rule says %.0f m\n", c.Circle.Centre.Lat(), c.Circle.Centre.Lon(), c.Strict, c.Published)
	for _, t := range c.Terms {
		fmt.Printf("%s %.0f m\n", t.Source, t.Radius)
	}
	// Output:
	// 10.25 km NNE of Ludden, by air <nil>
	// 45.0852, -99.9502 within 4023 m; the published rule says 3064 m
	// extent 2000 m
	// offset 125 m
	// heading 1898 m
}
