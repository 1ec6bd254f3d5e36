package find

import (
	"strings"

	"wayfall/geo/region"
	"wayfall/permits"
)

// stateNames are the states and territories by FIPS code, with the letters of
// ISO 3166-2:US and the name. Source: ANSI INCITS 38:2009 and ISO 3166-2, from
// memory; the names are checked against the boundary file by a test.
var stateNames = named([...]state{
	{fips: "01", letters: "AL"},
	{fips: "02", letters: "AK"},
	{fips: "04", letters: "AZ"},
	{fips: "05", letters: "AR"},
	{fips: "06", letters: "CA"},
	{fips: "08", letters: "CO"},
	{fips: "09", letters: "CT"},
	{fips: "10", letters: "DE"},
	{fips: "11", letters: "DC"},
	{fips: "12", letters: "FL"},
	{fips: "13", letters: "GA"},
	{fips: "15", letters: "HI"},
	{fips: "16", letters: "ID"},
	{fips: "17", letters: "IL"},
	{fips: "18", letters: "IN"},
	{fips: "19", letters: "IA"},
	{fips: "20", letters: "KS"},
	{fips: "21", letters: "KY"},
	{fips: "22", letters: "LA"},
	{fips: "23", letters: "ME"},
	{fips: "24", letters: "MD"},
	{fips: "25", letters: "MA"},
	{fips: "26", letters: "MI"},
	{fips: "27", letters: "MN"},
	{fips: "28", letters: "MS"},
	{fips: "29", letters: "MO"},
	{fips: "30", letters: "MT"},
	{fips: "31", letters: "NE"},
	{fips: "32", letters: "NV"},
	{fips: "33", letters: "NH"},
	{fips: "34", letters: "NJ"},
	{fips: "35", letters: "NM"},
	{fips: "36", letters: "NY"},
	{fips: "37", letters: "NC"},
	{fips: "38", letters: "ND"},
	{fips: "39", letters: "OH"},
	{fips: "40", letters: "OK"},
	{fips: "41", letters: "OR"},
	{fips: "42", letters: "PA"},
	{fips: "44", letters: "RI"},
	{fips: "45", letters: "SC"},
	{fips: "46", letters: "SD"},
	{fips: "47", letters: "TN"},
	{fips: "48", letters: "TX"},
	{fips: "49", letters: "UT"},
	{fips: "50", letters: "VT"},
	{fips: "51", letters: "VA"},
	{fips: "53", letters: "WA"},
	{fips: "54", letters: "WV"},
	{fips: "55", letters: "WI"},
	{fips: "56", letters: "WY"},
	{fips: "60", letters: "AS"},
	{fips: "66", letters: "GU"},
	{fips: "69", letters: "MP"},
	{fips: "72", letters: "PR"},
	{fips: "78", letters: "VI"},
})

type state struct {
	fips    region.ID
	letters string
	name    string
}

// named gives the states their names, without the article of a sentence.
func named(all [56]state) [56]state {
	for i := range all {
		all[i].name = strings.TrimPrefix(permits.PlaceText("US-"+all[i].letters), "the ")
	}
	return all
}

// Code returns the ISO 3166-2 code of a state's FIPS code, or of the state of
// a county's; "" if there is none.
func Code(id region.ID) string {
	if len(id) > 2 {
		id = id[:2]
	}
	for _, s := range stateNames {
		if s.fips == id {
			return "US-" + s.letters
		}
	}
	return ""
}

// codeOf reads a state as a person writes it: its name, its letters or its
// code.
func codeOf(text string) string {
	text = strings.TrimSpace(text)
	for _, s := range stateNames {
		if strings.EqualFold(text, s.name) || strings.EqualFold(text, s.letters) || strings.EqualFold(text, "US-"+s.letters) {
			return "US-" + s.letters
		}
	}
	return ""
}

// NameOf returns the name of a state's ISO 3166-2 code, or the code itself.
func NameOf(code string) string {
	for _, s := range stateNames {
		if code == "US-"+s.letters {
			return s.name
		}
	}
	return code
}

// CodeOf reads a state as a person writes it; what it does not know it returns
// as written.
func CodeOf(text string) string {
	if code := codeOf(text); code != "" {
		return code
	}
	return strings.TrimSpace(text)
}
