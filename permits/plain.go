package permits

import (
	"strconv"
	"strings"
)

// FactText names a missing fact as it stands after "Not known:", such as
// "whether a copy of the permit is carried". A code without words of its own
// is written with spaces.
func FactText(code string) string { return worded(factTexts, code) }

// PlaceText names an ISO 3166 code as it stands in a sentence: "Michigan",
// "the United States". A code it does not know is "an area without a name
// here", never the code.
func PlaceText(code string) string {
	for i := range placeTexts {
		if placeTexts[i][0] == code {
			return placeTexts[i][1]
		}
	}
	return "an area without a name here"
}

// ManagerText names a class of who controls the ground, as in "the land of".
func ManagerText(code string) string { return worded(managerTexts, code) }

// KindText names a kind of authority without an article.
func KindText(code string) string { return worded(kindTexts, code) }

// CauseText says what killed an animal, as it stands after "killed by".
func CauseText(code string) string { return worded(causeTexts, code) }

// MaterialText names what is taken, without an article.
func MaterialText(code string) string { return worded(materialTexts, code) }

func worded(texts [][2]string, code string) string {
	for i := range texts {
		if texts[i][0] == code {
			return texts[i][1]
		}
	}
	return strings.ReplaceAll(code, "_", " ")
}

// And joins words as a sentence does: "a, b and c".
func And(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

var monthNames = [...]string{"", "January", "February", "March", "April", "May", "June", "July", "August",
	"September", "October", "November", "December"}

// Long writes the date as a person reads it, 10 May 2026, and the unknown date
// as "".
func (d Date) Long() string {
	if d == 0 {
		return ""
	}
	return strconv.Itoa(d.Day()) + " " + monthNames[d.Month()] + " " + strconv.Itoa(d.Year())
}

// Long writes the moment as a person reads it: 10 May 2026, 14:05.
func (m Moment) Long() string {
	if !m.Timed() {
		return m.Date.Long()
	}
	return m.Date.Long() + ", " + m.String()[11:]
}

// Long writes the stretch as a person reads it: one moment, or "between" two.
func (w When) Long() string {
	switch {
	case w.From == w.To:
		return w.From.Long()
	case w.From.Date == w.To.Date:
		return w.From.Date.Long()
	}
	return "between " + w.From.Date.Long() + " and " + w.To.Date.Long()
}

var factTexts = [][2]string{
	{"activity", "what is to be done with it"}, {"class", "what kind of animal it is"}, {"species", "the species"},
	{"genus", "the species"}, {"family", "the species"}, {"order", "the species"}, {"groups", "the species"},
	{"taxon", "the species"}, {"identified", "whether it is named for sure"},
	{"material", "what of it is taken"}, {"count", "how many there are"}, {"event_carcass_count", "how many dead animals lie here"},
	{"soft_tissue", "whether there is flesh on it"}, {"nest_active", "whether the nest is in use"}, {"eggs_viable", "whether the eggs could hatch"},
	{"cause", "what killed it"}, {"suspected_crime", "whether somebody shot, trapped or poisoned it"},
	{"suspected_poison", "whether it was poisoned"}, {"evidence_released", "whether law enforcement has released it"},
	{"dieoff_released", "whether the health agency has released it"}, {"salvager_caused_death", "whether the salvager caused its death"},
	{"struck_elsewhere", "whether it was struck in another state"}, {"opportunistic", "whether it was met by chance"},
	{"research_purpose", "whether it is for a research project"}, {"wants_to_keep", "whether somebody wants to keep it"},
	{"sale", "whether it is to be sold"}, {"role", "who takes it"}, {"person", "who takes it"},
	{"official_duty", "whether it is taken on official duty"}, {"designated", "whether the agency has named the person for this"},
	{"barred", "whether the person may use permits"}, {"landowner_consent", "whether whoever controls the ground agrees in writing"},
	{"land_manager", "who controls the ground"}, {"storage_manager", "who controls the place where it is kept"},
	{"land_default", "on whose ground it lies"},
	{"land_authority", "whether the ground’s own permit is held"}, {"permit_copy_on_hand", "whether a copy of the permit is carried"},
	{"distance_to_shore_m", "how far it lies from the shore"}, {"in_live_traffic_lane", "whether the place is safe"},
	{"other_hazard", "whether the place is safe"}, {"band", "whether it has a band"},
	{"recipient_authorised", "whether the recipient may have it"}, {"lawful_hunt", "whether it was lawfully hunted"},
	{"open_season", "whether the season was open"}, {"both_registered", "whether both institutions are registered"},
	{"commercial", "whether money changes hands"}, {"crosses_border", "whether it crosses a state or national line"},
	{"lawfully_held", "whether it was lawfully held so far"}, {"in_hand", "whether it has been picked up already"},
	{"possessed_on", "when it was picked up"}, {"possessed", "when it was picked up"}, {"found", "when it was found"},
	{"offline_devices", "how many devices spent the number"}, {"activity_count", "how many animals the year has"},
	{"days_since_expiry", "when the permit ended"}, {"deposit_made", "whether it has been deposited"},
	{"euthanised", "whether it was put down"}, {"relied_kind", "which permit it is taken under"},
	{"covered_by", "which permit covers it"}, {"cover_rule", "which rule covers it"}, {"deposit_branch", "by when it is deposited"},
	{"listing_ended", "whether the person is still listed"}, {"place", "in which state it lies"},
	{"jurisdictions", "in which state it lies"}, {"judged_at", "when the question is asked"},
	{"renewal_filed", "when the renewal was filed"}, {"renewal_complete", "whether the renewal was complete"},
	{"sex", "its sex"}, {"age", "how old it is"}, {"acquired", "how it was come by"}, {"season", "whether the number counts on that day"},
	{"quota", "how many the permit still allows"}, {"depends_on", "whether the permit that it rests on holds"},
}

var managerTexts = [][2]string{
	{"private", "a private owner"}, {"road_authority", "the road authority"}, {"municipal", "the town or county"},
	{"state", "the state"}, {"national_park", "a national park"}, {"national park service", "a national park"},
	{"refuge", "a wildlife refuge"}, {"tribal", "a tribe"}, {"military", "the military"}, {"utility", "a utility"},
	{"state_park", "a state park"}, {"other", "somebody else"},
}

var kindTexts = [][2]string{
	{"collection_authority_least_concern", "collection authority for least-concern wildlife"},
	{"eagle_salvage", "eagle permit"}, {"exempt_holder", "standing of an exempt holder"},
	{"collection_authority_holding", "authority to hold dead wildlife"}, {"migratory_bird_permit", "migratory bird permit"},
	{"possession_licence", "possession licence"}, {"state_museum", "standing of a state museum"},
	{"land_permission", "land permission"}, {"listed_species", "permit for listed species"},
	{"regulatory_authorisation", "rule that needs no permit"}, {"scientific_collecting_with_salvage", "scientific collecting permit"},
	{"special_purpose_salvage", "special purpose salvage permit"}, {"banding", "banding permit"},
	{"state_collecting_with_salvage", "state collecting permit"}, {"state_listed_species", "state permit for listed species"},
	{"state_salvage", "state salvage permit"}, {"stranding_agreement", "stranding agreement"}, {"utility", "utility permit"},
}

var causeTexts = [][2]string{
	{"window", "a window"}, {"vehicle", "a vehicle"}, {"line", "a power line"}, {"electrocution", "an electric shock"},
	{"turbine", "a wind turbine"}, {"tower", "a tower"}, {"cat", "a cat"}, {"dog", "a dog"}, {"predator", "a wild predator"},
	{"fishing", "fishing gear"}, {"oil", "oil"}, {"poison", "poison"}, {"toxin", "a toxin"}, {"infection", "an infection"},
	{"starvation", "hunger or weather"}, {"shot", "a shot"}, {"trapped", "a trap"}, {"drowned", "water"},
	{"nestfall", "a fall from the nest"}, {"care", "death in care"}, {"euthanised", "being put down"}, {"unknown", "something unknown"},
}

var materialTexts = [][2]string{
	{"carcass", "whole animal"}, {"part", "part of an animal"}, {"feather", "feathers"}, {"inactive_nest", "empty nest"},
	{"nonviable_egg", "dead egg"}, {"active_nest", "nest in use"}, {"viable_egg", "live egg"},
}
