package record

// When is a moment or a day as a person knows it. Earliest and Latest are
// local civil times "2006-01-02T15:04" and bound it, both included; a When
// without Earliest is unknown. Text keeps what was written.
type When struct {
	Text      string    `json:"text,omitempty"`
	Earliest  string    `json:"earliest,omitempty"`
	Latest    string    `json:"latest,omitempty"`
	Precision Precision `json:"precision,omitempty"`
	Zone      string    `json:"zone,omitempty"` // offset from UTC, "-04:00"
	Basis     string    `json:"basis,omitempty"`
}

// Precision says how finely a When is known.
type Precision string

// The precisions of a When.
const (
	ToMinute Precision = "minute"
	ToDay    Precision = "day"
	ToMonth  Precision = "month"
	ToYear   Precision = "year"
	Between  Precision = "between"
)

// Fix is what a device said of its position, kept as captured. Lat and Lon are
// degrees on WGS 84, Accuracy a radius in metres that holds the truth with
// probability Level (0.95 for browsers by the W3C definition; 0 is unknown).
type Fix struct {
	Lat      float64 `json:"lat"`
	Lon      float64 `json:"lon"`
	Accuracy float64 `json:"accuracy_m,omitempty"`
	Level    float64 `json:"level,omitempty"`
	At       string  `json:"at,omitempty"` // RFC 3339
	Source   string  `json:"source,omitempty"`
}

// Georeference is a place as worked out: point, circle and the terms that made
// the radius. Fields that only make sense together are one value, so two
// people's places never mix. Radius is in metres; 0 is unknown.
type Georeference struct {
	Lat      float64  `json:"lat,omitempty"`
	Lon      float64  `json:"lon,omitempty"`
	Known    bool     `json:"known,omitempty"` // false: no coordinates, words only
	Datum    string   `json:"datum,omitempty"`
	Radius   float64  `json:"radius_m,omitempty"`
	Terms    []Term   `json:"terms,omitempty"`
	Protocol string   `json:"protocol,omitempty"`
	Source   string   `json:"source,omitempty"` // "device", "typed", "words", "map"
	State    string   `json:"state,omitempty"`  // ISO 3166-2, as a person said
	County   string   `json:"county,omitempty"`
	Flags    []string `json:"flags,omitempty"`
}

// Term is one source of uncertainty in metres, and why.
type Term struct {
	Name   string  `json:"name"`
	Metres float64 `json:"m"`
	Why    string  `json:"why,omitempty"`
}

// Determination says what somebody thinks the animal is.
type Determination struct {
	Written   string    `json:"written,omitempty"` // as typed or chosen
	Name      string    `json:"name,omitempty"`    // scientific name or group in the checklist; "" is unidentified
	Certainty Certainty `json:"certainty,omitempty"`
	By        string    `json:"by,omitempty"`
	Basis     string    `json:"basis,omitempty"`
}

// Certainty is how sure somebody is.
type Certainty string

// The certainties; the empty Certainty was not said.
const (
	Sure   Certainty = "sure"
	Likely Certainty = "likely"
	Guess  Certainty = "guess"
)

// Cause is a cause of death with what it rests on.
type Cause struct {
	Cause     string    `json:"cause,omitempty"` // a word of Causes
	Basis     string    `json:"basis,omitempty"` // a word of Bases
	Certainty Certainty `json:"certainty,omitempty"`
}

// Condition of a carcass. Decay runs from 0 (just died) to 4 (mummified), as
// on beach surveys; it is a pointer because 0 is a real value.
type Condition struct {
	Decay *int   `json:"decay,omitempty"`
	Gone  string `json:"gone,omitempty"` // how much flesh is missing, in words
	Wet   bool   `json:"wet,omitempty"`
}

// Land is what was said about permission of whoever controls the ground.
type Land struct {
	Permission string `json:"permission,omitempty"` // a word of Permissions
	Manager    string `json:"manager,omitempty"`    // a word of Managers
	By         string `json:"by,omitempty"`
	Written    bool   `json:"written,omitempty"`
}

// Signs are the facts around the carcass that rules ask about. Each is "yes",
// "no" or "" for not known.
type Signs struct {
	Crime        string `json:"crime,omitempty"`         // shot, trapped, poisoned by the look of it
	Caused       string `json:"caused,omitempty"`        // the salvager caused the death
	Planned      string `json:"planned,omitempty"`       // a planned search, not met by chance
	Research     string `json:"research,omitempty"`      // taken for research
	Keep         string `json:"keep,omitempty"`          // the finder wants to keep it
	PermitCopy   string `json:"permit_copy,omitempty"`   // a copy of the permit is at hand
	Danger       string `json:"danger,omitempty"`        // traffic, water, wires
	InHand       string `json:"in_hand,omitempty"`       // already picked up
	Others       string `json:"others,omitempty"`        // other carcasses lie there
	OthersNearby int    `json:"others_nearby,omitempty"` // how many of them were counted
}

// Person is somebody outside the people the institution knows.
type Person struct {
	Name    string `json:"name,omitempty"`
	Contact string `json:"contact,omitempty"`
}

// Photo links to bytes by their SHA-256 in hex; the bytes travel on their own.
type Photo struct {
	SHA256  string `json:"sha256"`
	Size    int64  `json:"size"`
	Type    string `json:"type"`
	Caption string `json:"caption,omitempty"`
	At      string `json:"at,omitempty"` // RFC 3339
}

// Freeze says when and where the carcass was first frozen.
type Freeze struct {
	At    When   `json:"at"`
	Where string `json:"where,omitempty"`
}

// Remark is free text; remarks are added, never rewritten. One that settles an
// item of the list of what needs a look names the item and how it was settled.
type Remark struct {
	Text    string `json:"text"`
	Settles string `json:"settles,omitempty"`
	How     string `json:"how,omitempty"`
}

// Bag is a line on an arrival's list, or a bag on the table.
type Bag struct {
	Tag      string `json:"tag,omitempty"`
	Written  string `json:"written,omitempty"` // the line as written
	Taxon    string `json:"taxon,omitempty"`
	Animal   string `json:"animal,omitempty"`   // the animal it was matched to
	Decision string `json:"decision,omitempty"` // "accepted", "unknown bag", "missing"
	IntakeNo string `json:"intake_no,omitempty"`
}

// Custody is one hand-over.
type Custody struct {
	From      string `json:"from,omitempty"`
	To        string `json:"to"`
	At        When   `json:"at"`
	Note      string `json:"note,omitempty"`
	Place     string `json:"place,omitempty"`
	Seal      string `json:"seal,omitempty"` // of the bag or box
	Condition string `json:"condition,omitempty"`
	Signed    string `json:"signed,omitempty"` // by whom
}

// DutyDone says that a duty was done and what proves it, or that a document
// lifted it. A waiver without a document lifts nothing.
type DutyDone struct {
	Code     string `json:"code"`
	At       When   `json:"at"`
	Evidence string `json:"evidence,omitempty"`
	Waives   bool   `json:"waives,omitempty"`
	Document string `json:"document,omitempty"` // reference of the document that lifts the duty
	By       string `json:"by,omitempty"`       // office or person that lifted it
	Why      string `json:"why,omitempty"`
}

// Lifts reports whether the duty is waived, with the document that it takes.
func (d DutyDone) Lifts() bool { return d.Waives && d.Document != "" }

// Withdrawn hides a record; it never destroys one.
type Withdrawn struct {
	Reason string `json:"reason"`
}
