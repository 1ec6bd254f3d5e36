// Package screen is the one check: it answers whether this person may take
// this carcass, here, now, from facts, rule packs, authorities and tallies.
//
// It promises the same verdict for the same facts, on the server and on the
// phone, offline. It never looks anything up, never reads the clock, and never
// spends a quota. Its answers are a check against loaded rules; the officer on
// the spot and licensed practice prevail.
package screen

import "wayfall/permits"

// Facts are what is known of one find or one act. Every zero value means "not
// known", and what is not known is never read as permission.
type Facts struct {
	// Who.
	Person       string         `json:"person,omitempty"` // as authorities name people
	Role         string         `json:"role,omitempty"`   // public, volunteer, staff, holder
	OfficialDuty permits.Answer `json:"official_duty,omitzero"`
	Designated   permits.Answer `json:"designated,omitzero"`
	Barred       permits.Answer `json:"barred,omitzero"` // known to be barred; whether one is stands in the register

	// When, in the local time of the find.
	Found     permits.When   `json:"found,omitzero"`
	Possessed permits.When   `json:"possessed,omitzero"`
	JudgedAt  permits.Moment `json:"judged_at,omitzero"` // when the question is asked
	InHand    permits.Answer `json:"in_hand,omitzero"`   // it was taken before anybody asked

	// Where. Jurisdictions are ISO 3166 codes in which the whole circle lies,
	// the finest known; possible ones are those it may lie in.
	Jurisdictions         []string `json:"jurisdictions,omitempty"`
	JurisdictionsPossible []string `json:"jurisdictions_possible,omitempty"`
	Units                 []string `json:"units,omitempty"` // other areas in which it surely lies
	Site                  string   `json:"site,omitempty"`  // words for people
	LandManager           string   `json:"land_manager,omitempty"`
	LandManagersPossible  []string `json:"land_managers_possible,omitempty"`
	// LandDefault is what the strictest unit of ground in which it surely lies
	// says of taking: deny, ask or allow. Possible ones are those of units that
	// the circle touches. Without any, what a person said of the ground counts.
	LandDefault          string          `json:"land_default,omitempty"`
	LandDefaultsPossible []string        `json:"land_defaults_possible,omitempty"`
	LandName             string          `json:"land_name,omitempty"` // words for people
	StorageManager       string          `json:"storage_manager,omitempty"`
	Consent              permits.Consent `json:"landowner_consent,omitempty"`
	StruckIn             string          `json:"struck_in,omitempty"`
	ShoreMetres          *int            `json:"distance_to_shore_m,omitempty"`

	// What.
	Taxon      string         `json:"taxon,omitempty"`
	Identified permits.Answer `json:"identified,omitzero"`
	Sex        string         `json:"sex,omitempty"`       // a word of permits.Sexes
	Age        string         `json:"age,omitempty"`       // a word of permits.Ages
	Acquired   string         `json:"acquired,omitempty"`  // a word of permits.Acquisitions
	Plausible  []string       `json:"plausible,omitempty"` // taxa a person holds possible besides
	Material   string         `json:"material,omitempty"`
	Count      int            `json:"count,omitempty"`
	EventCount int            `json:"event_carcass_count,omitempty"` // dead animals here in one event, this one included
	SoftTissue permits.Answer `json:"soft_tissue,omitzero"`
	NestActive permits.Answer `json:"nest_active,omitzero"`
	EggsViable permits.Answer `json:"eggs_viable,omitzero"`
	Band       string         `json:"band,omitempty"` // none, federal metal band, colour marks, club ring

	// How it died, and what is suspected.
	Cause            string         `json:"cause,omitempty"` // a word of the trade's list; "unknown" is an answer
	SuspectedCrime   permits.Answer `json:"suspected_crime,omitzero"`
	SuspectedPoison  permits.Answer `json:"suspected_poison,omitzero"`
	EvidenceReleased permits.Answer `json:"evidence_released,omitzero"`
	DieoffReleased   permits.Answer `json:"dieoff_released,omitzero"`
	CausedDeath      permits.Answer `json:"salvager_caused_death,omitzero"`
	Euthanised       permits.Answer `json:"euthanised,omitzero"`

	// How and why it is taken.
	Activity      string         `json:"activity,omitempty"` // salvage, transfer, receive, hold, export, year_end
	Opportunistic permits.Answer `json:"opportunistic,omitzero"`
	Research      permits.Answer `json:"research_purpose,omitzero"`
	WantsToKeep   permits.Answer `json:"wants_to_keep,omitzero"` // to keep, sell or trade it: one question
	Sale          permits.Answer `json:"sale,omitzero"`          // known to be for sale; can only make the answer stricter
	LawfulHunt    permits.Answer `json:"lawful_hunt,omitzero"`
	OpenSeason    permits.Answer `json:"open_season,omitzero"`
	TrafficLane   permits.Answer `json:"in_live_traffic_lane,omitzero"`
	OtherHazard   permits.Answer `json:"other_hazard,omitzero"` // water, wires, rail, cliff

	// Papers.
	Authority       string         `json:"authority,omitempty"` // the one the person names
	PermitCopy      permits.Answer `json:"permit_copy_on_hand,omitzero"`
	RenewalFiled    permits.Date   `json:"renewal_filed,omitempty"`
	RenewalComplete permits.Answer `json:"renewal_complete,omitzero"`

	// Other acts.
	RecipientAuthorised permits.Answer `json:"recipient_authorised,omitzero"`
	BothRegistered      permits.Answer `json:"both_registered,omitzero"`
	Commercial          permits.Answer `json:"commercial,omitzero"`
	DepositMade         permits.Answer `json:"deposit_made,omitzero"`
	CrossesBorder       permits.Answer `json:"crosses_border,omitzero"` // the move crosses a state or national line
	LawfullyHeld        permits.Answer `json:"lawfully_held,omitzero"`  // it was taken and held under authority so far
	ActivityCount       *int           `json:"activity_count,omitempty"`
	OfflineDevices      int            `json:"offline_devices,omitempty"` // devices that spent the same number unseen by each other
}
