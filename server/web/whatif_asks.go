package web

import (
	"strings"

	"wayfall/sync/record"
)

// ask is one thing that a what-if question may say. Nothing said is "not
// known", which the rules never read as permission.
type ask struct {
	Key, Label string
	Options    []record.Word
	usual      string   // how an ordinary find answers
	facts      []string // the facts of the rules that it answers
}

var yesNo = []record.Word{{Code: "yes", Label: "Yes"}, {Code: "no", Label: "No"}}

// asks are the questions of the form beside who, what, where and when.
var asks = []ask{
	{"cause", "What killed it", record.Causes, "unknown", []string{"cause", "euthanised"}},
	{"sure", "How sure is the name", []record.Word{{Code: "sure", Label: "Sure"}, {Code: "likely", Label: "Likely"}, {Code: "guess", Label: "A guess"}}, "sure",
		[]string{"identified", "taxon"}},
	{"stuff", "What is there", record.Materials, "carcass", []string{"material", "nest_active", "eggs_viable", "soft_tissue"}},
	{"land", "Who controls the ground", record.Managers, "private", []string{"land_manager"}},
	{"leave", "May it be taken from there", []record.Word{{Code: "written", Label: "Yes, in writing"}, {Code: "spoken", Label: "Yes, by word"},
		{Code: "no", Label: "No"}, {Code: "not_needed", Label: "Own ground, or not needed"}}, "written", []string{"landowner_consent"}},
	{"crime", "Signs of a crime or of poison", yesNo, "no", []string{"suspected_crime", "suspected_poison"}},
	{"others", "Other dead animals there", []record.Word{{Code: "0", Label: "None"}, {Code: "1", Label: "One more"}, {Code: "3", Label: "Three more"},
		{Code: "4", Label: "Four more or many"}}, "0", []string{"event_carcass_count"}},
	{"danger", "Traffic, water, wires or another danger", yesNo, "no", []string{"in_live_traffic_lane", "other_hazard"}},
	{"caused", "Did this person cause its death", yesNo, "no", []string{"salvager_caused_death"}},
	{"planned", "Was it a planned search", yesNo, "no", []string{"opportunistic"}},
	{"research", "Taken for research", yesNo, "no", []string{"research_purpose"}},
	{"keep", "Wants to keep, sell or trade it", yesNo, "no", []string{"wants_to_keep", "sale"}},
	{"copy", "A copy of the permit at hand", yesNo, "yes", []string{"permit_copy_on_hand"}},
	{"band", "A band or another mark", []record.Word{{Code: "none", Label: "None"}, {Code: "marked", Label: "Banded or marked"}}, "none", []string{"band"}},
}

// handAsk stands apart: unless it is said that the animal was taken already,
// the question is about one that still lies there.
var handAsk = ask{Key: "hand", Label: "Where it is now", facts: []string{"in_hand"},
	Options: []record.Word{{Code: "no", Label: "It lies there"}, {Code: "yes", Label: "It was picked up already"}}}

// otherFacts are facts of the rules that the form has no question of its own
// for, in words.
var otherFacts = map[string]string{
	"place": "the state in which it lies", "person": "who takes it", "possessed": "the day", "quota": "how much of the number is used",
	"count": "how many there are", "official_duty": "whether somebody acts on official duty", "designated": "whether that person is designated for it",
	"depends_on": "whether the paper it rests on stands", "distance_to_shore_m": "how far from the shore it lies", "storage_manager": "where it would be kept",
	"crosses_border": "whether it is carried across a line", "lawful_hunt": "whether it was lawfully hunted", "open_season": "whether the season is open",
	"recipient_authorised": "whether the recipient may hold it", "role": "whose hand it is", "groups": "on which lists it stands",
}

// askFor returns the question of the form that answers a fact of the rules.
func askFor(fact string) (ask, bool) {
	for _, a := range append(asks, handAsk) {
		for _, f := range a.facts {
			if f == fact {
				return a, true
			}
		}
	}
	return ask{}, false
}

// factText is a fact of the rules as a person would name it.
func factText(fact string) string {
	if a, ok := askFor(fact); ok {
		return smallFirst(a.Label)
	}
	if words := otherFacts[fact]; words != "" {
		return words
	}
	return strings.ReplaceAll(fact, "_", " ")
}

func smallFirst(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func labelIn(words []record.Word, code string) string {
	for _, w := range words {
		if w.Code == code {
			return w.Label
		}
	}
	return ""
}
