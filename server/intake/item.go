package intake

import "wayfall/sync/op"

// Way is one way to settle an item.
type Way struct {
	How   string `json:"how"`
	Label string `json:"label"`
}

// Item is one line of the list of what needs a look: what is odd, what to do,
// and the ways to settle it. Settling adds an operation; it deletes nothing.
type Item struct {
	ID      string
	Code    Code
	Why     string
	Todo    string // one sentence: what to do
	Ways    []Way
	Kind    string // of the record: report, animal, arrival, authority, part
	Record  string
	Name    string // of the record, for the person
	Field   string // "" for all of the record
	Other   string // the other animal of a proposed pair
	Parts   []Part // the reasons for a proposed pair
	Suggest op.Value
	Rule    string // of an answer of the rules: what decided,
	Cites   string // the section that it cites,
	Paper   string // and the paper that it is about, if any
	Who     string
	AtMS    int64
	Zone    string
	LSN     uint64
}

// The ways to settle an item.
const (
	Keep   = "keep"   // it is right as it is
	Change = "change" // take the suggested value
	Same   = "same"   // two reports are of one animal
	Apart  = "apart"  // they are not
	Seen   = "seen"   // looked at and noted
)

var (
	keepIt   = Way{Keep, "It is right as it stands"}
	changeIt = Way{Change, "Take the suggestion"}
	sameOne  = Way{Same, "One animal: join them"}
	twoOnes  = Way{Apart, "Two animals: leave them apart"}
	seenIt   = Way{Seen, "Looked at; note what was decided"}
)

// todo says what to do about each code and which ways settle it.
var todo = map[Code]struct {
	say  string
	ways []Way
}{
	BadValue:         {"Look at what was written and correct the field, or note that it is right.", []Way{keepIt, seenIt}},
	UnknownField:     {"It was written by another release. It is kept; nothing needs to be done unless it looks wrong.", []Way{keepIt}},
	UnknownWord:      {"Choose the word that was meant, or note that it is right.", []Way{keepIt, seenIt}},
	DateDoubt:        {"Ask who wrote it, or compare it with the photo and the freezer log.", []Way{keepIt, seenIt}},
	PlaceDoubt:       {"Compare the pin with the words and ask who wrote it.", []Way{keepIt, seenIt}},
	PhotoBad:         {"Ask for the picture again.", []Way{seenIt}},
	UnknownAuthority: {"Enter the permit, or ask which paper was meant.", []Way{seenIt}},
	NotCovered:       {"The permit officer decides whether to disclose it, and notes what was done.", []Way{seenIt}},
	StopSpecies:      {"Call the office named in the verdict before the animal is moved again, and note who was told.", []Way{seenIt}},
	CallFirst:        {"Call the office named in the verdict before the animal is moved again, keep the bag shut, and note who was told.", []Way{seenIt}},
	OverQuota:        {"It stays recorded as over the number. Ask for an amendment or disclose it, and note what was done.", []Way{seenIt}},
	NeedsPerson:      {"Read the findings, find out what is missing, and note what was decided.", []Way{seenIt}},
	Differs:          {"Open the record and choose the value that is right; both stay readable.", []Way{seenIt}},
	PairProposed:     {"Compare the two finds and decide whether they are one animal.", []Way{sameOne, twoOnes}},
	WrongActor:       {"Find out who saved this and on which phone.", []Way{seenIt}},
	LostDevice:       {"The device was declared lost. Find out who used it before relying on this.", []Way{seenIt}},
	NotYours:         {"Somebody wrote what another role decides. Confirm it or correct it.", []Way{keepIt, seenIt}},
}

// furnish fills in what to do and how.
func (it *Item) furnish() {
	t := todo[it.Code]
	it.Todo, it.Ways = t.say, t.ways
	if it.Suggest != "" {
		it.Ways = append([]Way{changeIt}, it.Ways...)
	}
	if it.Todo == "" {
		it.Todo, it.Ways = "Look at it and note what was decided.", []Way{seenIt}
	}
}
