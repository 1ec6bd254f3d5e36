package intake

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// candidate is a pair by the places of its sightings in a list.
type candidate struct {
	i, j int
	pair Pair
}

// cellDegrees is the size of the cells in which neighbours are looked for; it
// must not be smaller than the distance at which two places may still match,
// a little over twice what counts as vague.
const cellDegrees = 0.1

type cell struct{ lat, lon int }

// forNeighbours calls fn once for each two sightings near enough in place and
// time to be compared.
func forNeighbours(all []Sighting, fn func(i, j int)) {
	order := make([]int, 0, len(all))
	for i, s := range all {
		if s.Where.Known() && s.Where.Radius <= vague {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(all[i].Found.Compare(all[j].Found), cmp.Compare(i, j))
	})
	grid := map[cell][]int{}
	for _, j := range order {
		at := cellOf(all[j])
		for lat := at.lat - 1; lat <= at.lat+1; lat++ {
			for lon := at.lon - 1; lon <= at.lon+1; lon++ {
				home := cell{lat, lon}
				grid[home] = recent(grid[home], all, all[j].Found)
				for _, i := range grid[home] {
					fn(i, j)
				}
			}
		}
		grid[at] = append(grid[at], j)
	}
}

func cellOf(s Sighting) cell {
	lat := float64(s.Where.Centre.Lat())
	shrink := max(0.05, math.Cos(math.Round(lat)*math.Pi/180))
	return cell{int(math.Floor(lat / cellDegrees)), int(math.Floor(float64(s.Where.Centre.Lon()) * shrink / cellDegrees))}
}

// recent drops the sightings at the front that are too old to match. Those
// without a date stand at the very front and stay.
func recent(list []int, all []Sighting, now time.Time) []int {
	return slices.DeleteFunc(list, func(i int) bool {
		return !all[i].Found.IsZero() && now.Sub(ends(all[i])) > (searchDays+1)*24*time.Hour
	})
}

// assign chooses candidates so that no sighting stands in two of them and the
// sum of points is greatest. Sightings hang together in small groups; a group
// of up to exactly members is solved exactly, a larger one greedily.
func assign(all []candidate) []candidate {
	slices.SortFunc(all, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(y.pair.Points, x.pair.Points), cmp.Compare(x.i, y.i), cmp.Compare(x.j, y.j))
	})
	var out []candidate
	for _, group := range groups(all) {
		if len(group) <= exactly {
			best, _ := best(group, map[int]bool{})
			out = append(out, best...)
		} else {
			out = append(out, greedy(group)...)
		}
	}
	return out
}

// exactly is how many candidates that hang together are tried in every way.
const exactly = 16

func best(rest []candidate, used map[int]bool) ([]candidate, float64) {
	for len(rest) > 0 && (used[rest[0].i] || used[rest[0].j]) {
		rest = rest[1:]
	}
	if len(rest) == 0 {
		return nil, 0
	}
	c := rest[0]
	used[c.i], used[c.j] = true, true
	with, points := best(rest[1:], used)
	points += c.pair.Points
	delete(used, c.i)
	delete(used, c.j)
	if without, other := best(rest[1:], used); other > points {
		return without, other
	}
	return append([]candidate{c}, with...), points
}

func greedy(all []candidate) []candidate {
	used := map[int]bool{}
	var out []candidate
	for _, c := range all {
		if !used[c.i] && !used[c.j] {
			used[c.i], used[c.j] = true, true
			out = append(out, c)
		}
	}
	return out
}

// groups splits candidates into those that share sightings, keeping their order.
func groups(all []candidate) [][]candidate {
	parent := map[int]int{}
	var root func(int) int
	root = func(i int) int {
		if p, ok := parent[i]; ok && p != i {
			parent[i] = root(p)
			return parent[i]
		}
		return i
	}
	for _, c := range all {
		parent[root(c.i)] = root(c.j)
	}
	index := map[int]int{}
	var out [][]candidate
	for _, c := range all {
		r := root(c.i)
		n, ok := index[r]
		if !ok {
			n = len(out)
			index[r] = n
			out = append(out, nil)
		}
		out[n] = append(out[n], c)
	}
	return out
}
