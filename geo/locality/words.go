package locality

// role is what a word can do in a locality. A word may have several.
type role uint32

const (
	isOf        role = 1 << iota // leads to the feature that is measured from
	isAnd                        // joins two
	isBy                         // "by" in "by road"
	isAirWord                    // measured through the air
	isWayWord                    // measured along a way
	isOn                         // leads to the way that is followed
	isNear                       // near
	isBetween                    // between
	isJunction                   // where two ways meet
	isPost                       // a milepost
	isPostHalf                   // "mile" of "mile post"
	isPostTail                   // "post" of "mile post"
	isSide                       // one side
	isBank                       // one bank, looking downstream
	isHand                       // left, right
	isStream                     // up or down a way
	isHedge                      // changes nothing
	isDoubt                      // the writer is not sure
	isElevation                  // a height follows or went before
	isIn                         // leads to a region
	isBounded                    // ends the name of a region
	isWayName                    // part of the name of a road, river, trail or beach
	isDue                        // sharpens a heading
	isOutside                    // distance in no stated direction
	isCount                      // a number in letters
	isArticle                    // may be left out
	isPlain                      // an everyday word: no part of a name by itself
	isBearing                    // leads to degrees
)

// lexicon is the table of words. Keys are in lower case without dots. The
// table is data: a further language is a further table.
type lexicon struct {
	roles  map[string]role
	units  map[string]unit
	counts map[string]quantity
	stream map[string]string
	inner  map[string]bool // small words inside names
}

// english words; common practice. A few short Spanish and French words are
// met in localities in any language.
var english = makeLexicon(map[role]string{
	isOf:        "of from de",
	isAnd:       "and & y et",
	isBy:        "by via",
	isAirWord:   "air airline crow straight",
	isWayWord:   "road highway river trail rd hwy path route track shore beach car water foot boat",
	isOn:        "on along via up down off",
	isNear:      "near nr vicinity vic close cerca",
	isBetween:   "between btwn betw entre",
	isJunction:  "junction jct jctn intersection confluence corner crossing crossroads jn",
	isPost:      "milepost milemarker mp mm kp pk kilometerpost kilometrepost kmpost",
	isPostHalf:  "mile km kilometer kilometre",
	isPostTail:  "post marker mark",
	isSide:      "side shoulder edge end shore",
	isBank:      "bank",
	isHand:      "left right",
	isStream:    "upstream downstream upriver downriver above below",
	isHedge:     "about approximately approx ca circa c roughly around some just immediately exactly directly",
	isDoubt:     "possibly probably perhaps maybe presumably likely uncertain or unknown",
	isElevation: "elev elevation alt altitude asl el elevations",
	isIn:        "in within inside",
	isBounded:   "county co parish borough province park refuge forest reserve preserve sanctuary monument township twp district reservation state",
	isWayName:   "road rd street st avenue ave boulevard blvd drive dr lane ln highway hwy route rte rt freeway fwy parkway pkwy interstate trail path track turnpike causeway river r creek ck crk cr stream brook run canal ditch fork beach shore railroad railway sr us i m",
	isDue:       "due",
	isOutside:   "outside away",
	isCount:     "one two three four five six seven eight nine ten eleven twelve half quarter a an",
	isArticle:   "the a an",
	isPlain:     "found dead lying hit struck car truck vehicle window the a an it was is with under beside next bird animal few several many miles kilometers between across behind front opposite this that there here where house yard my our his her their at to roadside",
	isBearing:   "bearing azimuth",
})

func makeLexicon(words map[role]string) *lexicon {
	l := &lexicon{roles: map[string]role{}, units: map[string]unit{}, counts: map[string]quantity{}}
	for r, list := range words {
		for w := range splitWords(list) {
			l.roles[w] |= r
		}
	}
	for w, u := range units {
		l.units[lower(w)] = u
	}
	for w := range splitWords("nm nmi nautical") {
		l.units[w] = unit{"nmi", 1852}
	}
	for w := range splitWords("kms kmts kilómetros quilometros") {
		l.units[w] = units["KM"]
	}
	for i, w := range [...]string{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"} {
		l.counts[w] = quantity{value: float64(i + 1), precision: 1}
	}
	l.counts["a"], l.counts["an"] = quantity{value: 1, precision: 1}, quantity{value: 1, precision: 1}
	l.counts["half"] = quantity{value: 0.5, precision: 0.5}
	l.counts["quarter"] = quantity{value: 0.25, precision: 0.25}
	l.inner = map[string]bool{}
	for w := range splitWords("la le las los les del du des da do dos das der den van von sur am in bei upon o' at el al") {
		l.inner[w] = true
	}
	l.stream = map[string]string{
		"upstream": "upstream", "upriver": "upstream", "above": "upstream", "up": "upstream",
		"downstream": "downstream", "downriver": "downstream", "below": "downstream", "down": "downstream",
	}
	return l
}
