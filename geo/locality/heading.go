package locality

import (
	"strings"

	"wayfall/geo"
)

// points are the 32 points of the compass, clockwise from north; B is "by".
var points = [32]string{
	"N", "NBE", "NNE", "NEBN", "NE", "NEBE", "ENE", "EBN",
	"E", "EBS", "ESE", "SEBE", "SE", "SEBS", "SSE", "SBE",
	"S", "SBW", "SSW", "SWBS", "SW", "SWBW", "WSW", "WBS",
	"W", "WBN", "WNW", "NWBW", "NW", "NWBN", "NNW", "NBW",
}

// readHeading reads what stands between the distance and "of". Half-angles:
// Chapman & Wieczorek (2020), 3.4.5, give 45 degrees to N, 22.5 to NE, 11.25
// to NNE; the 32 points go on in that pattern. "Due" takes the doubt from a
// cardinal point without a figure in the source; 11.25 is common practice.
func readHeading(s string) (toward string, heading, halfAngle geo.Degrees, err error) {
	words := strings.Fields(strings.ToUpper(strings.NewReplacer("(", " ", ")", " ", ",", " ").Replace(s)))
	joined := " " + strings.Join(words, " ") + " "
	for word, why := range map[string]string{
		" ROAD ":  "the distance is along a road, and roads are not followed here",
		" RIVER ": "the distance is along a river, and rivers are not followed here",
		" TRAIL ": "the distance is along a trail, and trails are not followed here",
		" AND ":   "there are two offsets; only one is understood",
	} {
		if strings.Contains(joined, word) {
			return "", 0, 0, geo.Errorf(geo.NotUnderstood, "%s", why)
		}
	}
	joined = strings.Replace(joined, " BY AIR ", " ", 1)
	joined = strings.Replace(joined, " AIRLINE ", " ", 1)
	due := strings.HasPrefix(joined, " DUE ")
	toward, ok := letters(strings.TrimPrefix(joined, " DUE"))
	if !ok {
		return "", 0, 0, geo.Errorf(geo.NotUnderstood, "a heading such as NE or north-east is expected, not %q", clip(s))
	}
	for i, p := range points {
		if p == toward {
			return strings.ReplaceAll(p, "B", "b"), geo.Degrees(i) * 11.25, sureness(i, due), nil
		}
	}
	return "", 0, 0, geo.Errorf(geo.NotUnderstood, "%q is no point of the compass", clip(s))
}

func sureness(point int, due bool) geo.Degrees {
	switch {
	case point%8 == 0 && !due:
		return 45
	case point%8 == 4 && !due:
		return 22.5
	case point%2 == 0:
		return 11.25
	}
	return 5.625
}

// letters turns "north-north-east", "N.N.E." or "NNE" into "NNE".
func letters(s string) (string, bool) {
	s = undashed.Replace(s)
	var b strings.Builder
	for s != "" {
		word := ""
		for _, w := range [...]string{"NORTH", "SOUTH", "EAST", "WEST", "BY", "N", "S", "E", "W", "B"} {
			if strings.HasPrefix(s, w) {
				word = w
				break
			}
		}
		if word == "" {
			return "", false
		}
		b.WriteByte(word[0])
		s = s[len(word):]
	}
	return b.String(), b.Len() > 0
}

var undashed = strings.NewReplacer(" ", "", "-", "", ".", "")
