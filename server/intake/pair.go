package intake

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/sync/op"
)

// Sighting is one animal as one report tells of it.
type Sighting struct {
	Report, Animal op.ID
	Reporter       string
	Device         string
	Found, Until   time.Time // bounds of when it was found, UTC; zero is unknown
	Where          geo.Circle
	Taxon          string   // scientific name, "" is unidentified
	Plausible      []string // what the name may stand for; none means only itself
	Deed           string   // a word of record.Deeds
	Circumstance   string
	Decay          int // 0 to 4, -1 is unknown
	Band           string
	Photos         []string // digests
}

// Part is one reason for or against two reports being of one animal. Points
// are tenths of powers of ten: 10 points make it ten times as likely.
type Part struct {
	Name   string  `json:"name"`
	Points float64 `json:"points"`
	Why    string  `json:"why"`
}

// Pair proposes that two reports are of one animal.
type Pair struct {
	A, B   Sighting // A was found first
	Points float64
	Parts  []Part
}

// Our choices, each in the unit of its name. Persistence on roads follows a
// published median of one day (Santos et al. 2016, Carcass persistence and
// detectability, PLoS ONE 11(11): e0165608, abstract read); the rest is common
// practice.
const (
	enough        = 20   // points from which a pair is proposed
	never         = -100 // points of something that cannot be
	vague         = 5 * geo.Kilometre
	strewnMetres  = 60.0  // how far waves, scavengers and feet move a carcass
	background    = 25e6  // m²: where one other such carcass may lie by chance
	sigmas95      = 2.448 // radius that holds 95 % of a circular normal spread, in sigmas
	roadDays      = 2.0
	elsewhereDays = 7.0
	searchDays    = 10
)

// Pairs proposes which sightings are of one animal, each sighting in at most
// one pair, so that the sum of points is greatest.
func Pairs(all []Sighting) []Pair {
	var candidates []candidate
	forNeighbours(all, func(i, j int) {
		if hopeless(&all[i], &all[j]) {
			return
		}
		if p := Weigh(all[i], all[j]); p.Points >= enough {
			candidates = append(candidates, candidate{i, j, p})
		}
	})
	chosen := assign(candidates)
	out := make([]Pair, len(chosen))
	for i, c := range chosen {
		out[i] = c.pair
	}
	slices.SortFunc(out, func(x, y Pair) int {
		return cmp.Or(cmp.Compare(y.Points, x.Points), cmp.Compare(x.A.Animal.String(), y.A.Animal.String()))
	})
	return out
}

// hopeless tells cheaply that Weigh cannot reach enough points: nearly all
// pairs end here. A shared band or picture can outweigh anything but one hand.
func hopeless(a, b *Sighting) bool {
	if a.Reporter == b.Reporter || a.Report == b.Report {
		return true
	}
	if a.band() != "" && a.band() == b.band() || len(a.Photos) > 0 && len(b.Photos) > 0 {
		return false
	}
	if a.Taxon != b.Taxon && a.Taxon != "" && b.Taxon != "" &&
		!slices.Contains(a.Plausible, b.Taxon) && !slices.Contains(b.Plausible, a.Taxon) {
		return true
	}
	lat, lon := a.Where.Centre.Lat(), a.Where.Centre.Lon()
	const perDegree = 111195 // metres, a sphere is near enough
	dy := float64(b.Where.Centre.Lat()-lat) * perDegree
	dx := math.Remainder(float64(b.Where.Centre.Lon()-lon), 360) * perDegree * math.Cos(lat.Radians())
	ra, rb := float64(a.Where.Radius), float64(b.Where.Radius)
	s2 := (ra*ra+rb*rb)/(sigmas95*sigmas95) + strewnMetres*strewnMetres
	return dx*dx+dy*dy > 20*s2 // more than 40 points against, after the 1 % a sphere may be off
}

// Weigh lays two sightings side by side and says what speaks for and against
// their being one animal.
func Weigh(a, b Sighting) Pair {
	if b.Found.Before(a.Found) {
		a, b = b, a
	}
	p := Pair{A: a, B: b, Parts: []Part{
		weighHands(a, b), weighPlace(a, b), weighTime(a, b), weighTaxon(a, b), weighDeeds(a, b),
	}}
	for _, more := range []func(a, b Sighting) (Part, bool){weighBand, weighPhotos, weighDecay} {
		if part, ok := more(a, b); ok {
			p.Parts = append(p.Parts, part)
		}
	}
	for _, part := range p.Parts {
		p.Points += part.Points
	}
	return p
}

func weighHands(a, b Sighting) Part {
	switch {
	case a.Report == b.Report:
		return Part{"who", never, "both stand in one report"}
	case a.Reporter == b.Reporter:
		return Part{"who", never, "both were reported by the same person, who would have known"}
	case a.Device == b.Device && a.Device != "":
		return Part{"who", -3, "two people, but on one device"}
	}
	return Part{"who", 0, "reported by two people"}
}

// weighPlace compares how likely two positions of one carcass would lie so far
// apart with how likely two carcasses would by chance.
func weighPlace(a, b Sighting) Part {
	if !a.Where.Known() || !b.Where.Known() || a.Where.Radius > vague || b.Where.Radius > vague {
		return Part{"place", -10, "one of the places is not known well enough to compare"}
	}
	metres, err := geodesic.Distance(a.Where.Centre, b.Where.Centre)
	if err != nil {
		return Part{"place", -10, "the distance between the places could not be measured"}
	}
	d := float64(metres)
	ra, rb := float64(a.Where.Radius), float64(b.Where.Radius)
	s2 := (ra*ra+rb*rb)/(sigmas95*sigmas95) + strewnMetres*strewnMetres
	points := 10 * (math.Log10(background/(2*math.Pi*s2)) - d*d/(2*s2)*math.Log10E)
	return Part{"place", max(points, -60), fmt.Sprintf("%.0f m apart, known to %.0f m and %.0f m", d, ra, rb)}
}

func weighTime(a, b Sighting) Part {
	if a.Found.IsZero() || b.Found.IsZero() {
		return Part{"time", -5, "one of the dates is not known"}
	}
	gap := b.Found.Sub(ends(a)).Hours() / 24
	if gap <= 0 {
		return Part{"time", 6, "found at the same time, as far as is known"}
	}
	lasts, where := elsewhereDays, "a carcass often lies there for days"
	if a.Circumstance == "road" {
		lasts, where = roadDays, "on a road a carcass is usually gone within a day or two"
	}
	points := 6 - 10*math.Log10E*gap/lasts
	if gap > searchDays {
		points = -40
	}
	return Part{"time", points, fmt.Sprintf("%s apart; %s", spell(gap), where)}
}

func ends(s Sighting) time.Time {
	if s.Until.After(s.Found) {
		return s.Until
	}
	return s.Found
}

func spell(days float64) string {
	if days < 2 {
		return fmt.Sprintf("%.0f h", days*24)
	}
	return fmt.Sprintf("%.0f days", days)
}

func weighTaxon(a, b Sighting) Part {
	switch {
	case a.Taxon == "" || b.Taxon == "":
		return Part{"kind", 0, "one of them was not identified"}
	case a.Taxon == b.Taxon:
		return Part{"kind", 8, "both are said to be " + a.Taxon}
	case slices.Contains(a.Plausible, b.Taxon), slices.Contains(b.Plausible, a.Taxon):
		return Part{"kind", 2, fmt.Sprintf("%s and %s are easily taken for one another", a.Taxon, b.Taxon)}
	}
	return Part{"kind", -25, fmt.Sprintf("one is said to be %s, the other %s", a.Taxon, b.Taxon)}
}

// weighDeeds asks whether what was done with the first leaves it to be found
// by the second.
func weighDeeds(a, b Sighting) Part {
	gone := func(d string) bool { return d == "taken" || d == "agency" }
	after := !a.Found.IsZero() && b.Found.After(ends(a))
	switch {
	case gone(a.Deed) && b.Deed == "vanished":
		return Part{"deed", 4, "the first took it, and the second found it gone"}
	case gone(a.Deed) && after:
		return Part{"deed", never, "the first had already taken it away when the second was found"}
	case gone(a.Deed) && gone(b.Deed):
		return Part{"deed", -8, "both say it was taken away"}
	case a.Deed == "left" && gone(b.Deed):
		return Part{"deed", 3, "the first left it, and the second took it away"}
	}
	return Part{"deed", 0, "what was done does not tell them apart"}
}

// band is the number on the band, "" if there is none or nobody looked.
func (s *Sighting) band() string {
	if strings.EqualFold(s.Band, "none") {
		return ""
	}
	return s.Band
}

func weighBand(a, b Sighting) (Part, bool) {
	switch {
	case a.band() == "" || b.band() == "":
		return Part{}, false
	case a.band() == b.band():
		return Part{"band", 80, "both carry the band " + a.Band}, true
	}
	return Part{"band", -40, "they carry different bands"}, true
}

func weighPhotos(a, b Sighting) (Part, bool) {
	for _, p := range a.Photos {
		if slices.Contains(b.Photos, p) {
			return Part{"photo", 20, "the same picture goes with both"}, true
		}
	}
	return Part{}, false
}

func weighDecay(a, b Sighting) (Part, bool) {
	if a.Decay < 0 || b.Decay < 0 {
		return Part{}, false
	}
	switch change := b.Decay - a.Decay; {
	case change < -1:
		return Part{"decay", -6, "the later one was much fresher"}, true
	case change > 2:
		return Part{"decay", -3, "the later one was far more decayed"}, true
	}
	return Part{"decay", 1, "their states of decay agree"}, true
}
