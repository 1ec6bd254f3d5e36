package record

// Word is one word of a vocabulary with what a person reads.
type Word struct {
	Code  string `json:"code"`
	Label string `json:"label"`
}

// Deeds are what was done with the find.
var Deeds = []Word{
	{"taken", "Bagged and taken"},
	{"left", "Left in place"},
	{"agency", "Handed to an agency"},
	{"vanished", "Gone when looked for"},
}

// Materials are what can be found. Source: the material classes of the United
// States salvage permit information, in our words.
var Materials = []Word{
	{"carcass", "Whole animal"}, {"part", "Part of an animal"}, {"feather", "Feathers"},
	{"inactive_nest", "Empty nest"}, {"nonviable_egg", "Dead egg"},
	{"active_nest", "Nest in use"}, {"viable_egg", "Live egg"},
}

// Causes are causes of death; common practice, the working list of the trade.
var Causes = []Word{
	{"window", "Window or building"}, {"vehicle", "Vehicle"}, {"line", "Power line collision"},
	{"electrocution", "Electrocution"}, {"turbine", "Wind turbine"}, {"tower", "Tower or light"},
	{"cat", "Cat"}, {"dog", "Dog"}, {"predator", "Wild predator"}, {"fishing", "Fishing gear"},
	{"oil", "Oil"}, {"poison", "Poison"}, {"toxin", "Botulism or other toxin"},
	{"infection", "Infection"}, {"starvation", "Starvation or weather"}, {"shot", "Shot"},
	{"trapped", "Trapped"}, {"drowned", "Drowned"}, {"nestfall", "Fell from the nest"},
	{"care", "Died in care"}, {"euthanised", "Euthanised"}, {"unknown", "Cannot tell"},
}

// Circumstances are where and how the carcass lay, apart from any cause.
var Circumstances = []Word{
	{"road", "On or by a road"}, {"under_window", "Under a window"}, {"beach", "On a beach"},
	{"under_line", "Under a power line"}, {"under_turbine", "Under a turbine"},
	{"under_tower", "Under a tower"}, {"garden", "Garden or yard"}, {"water", "In water"},
	{"open", "Field or woods"}, {"care", "In a care centre"}, {"freezer", "In a freezer"}, {"other", "Elsewhere"},
}

// Acquisitions are how an animal was come by; common practice, after what
// permits and their reports tell apart.
var Acquisitions = []Word{
	{"found_dead", "Found dead"}, {"died_in_care", "Died in care"},
	{"received", "From an agency or another institution"}, {"taken", "Taken alive"},
}

// Bases are what a statement of cause rests on.
var Bases = []Word{
	{"seen", "Seen to happen"}, {"sign", "Signs on the body"}, {"position", "Where it lay"},
	{"dissection", "Dissection"}, {"lab", "Laboratory"},
}

// Permissions are the answers to "may you take it from this ground?".
var Permissions = []Word{
	{"yes", "Yes"}, {"no", "No"}, {"unknown", "Not asked"}, {"not_needed", "Own ground or not needed"},
}

// Managers are the classes of who controls the ground.
var Managers = []Word{
	{"private", "Private owner"}, {"road_authority", "Road authority"}, {"municipal", "Town or county"},
	{"state", "State land or beach"}, {"national_park", "National park"}, {"refuge", "Wildlife refuge"},
	{"tribal", "Tribal land"}, {"military", "Military"}, {"utility", "Utility"}, {"other", "Someone else"},
}

// Dispositions are where an animal went in the end or is now.
var Dispositions = []Word{
	{"left", "Left in place"}, {"vanished", "Gone"}, {"agency", "With an agency or laboratory"},
	{"private_freezer", "In a private freezer"}, {"received", "In the museum"},
	{"never_arrived", "Never arrived"}, {"destroyed", "Destroyed"}, {"transferred", "Given to another institution"},
}

// PartTypes are the kinds of preparation; common practice.
var PartTypes = []Word{
	{"skin", "Study skin"}, {"partial_skeleton", "Partial skeleton"}, {"skeleton", "Skeleton"},
	{"spread_wing", "Spread wing"}, {"flat_skin", "Flat skin"}, {"fluid", "Fluid"},
	{"tissue", "Tissue"}, {"stomach", "Stomach"},
}

// Hazards warn the next hand.
var Hazards = []Word{
	{"avian_influenza", "Bird flu suspected"}, {"rabies_vector", "Rabies vector"}, {"poison", "Poison"},
	{"barbiturate", "Barbiturate"}, {"oil", "Oil"}, {"botulism", "Botulism suspected"},
}

// Vocabulary returns the words of a coded field, or nil.
func Vocabulary(kind Kind, field string) []Word {
	switch field {
	case "deed":
		return Deeds
	case "material":
		return Materials
	case "circumstance":
		return Circumstances
	case "acquired":
		return Acquisitions
	case "disposition":
		return Dispositions
	case "hazards":
		return Hazards
	}
	if kind == Part && field == "type" {
		return PartTypes
	}
	return nil
}
