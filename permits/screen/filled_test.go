package screen_test

import (
	"wayfall/permits"
	"wayfall/permits/screen"
)

// filled returns facts with nothing left out, so that their JSON names every
// fact there is.
func filled() screen.Facts {
	y, n, when := permits.Yes, 1, permits.On(permits.NewDate(2026, 5, 10))
	words := []string{"x"}
	return screen.Facts{Person: "p", Role: "r", OfficialDuty: y, Designated: y, Barred: y, Found: when, Possessed: when,
		JudgedAt: when.From, InHand: y, Jurisdictions: words, JurisdictionsPossible: words, Units: words, Site: "s",
		LandManager: "m", LandManagersPossible: words, LandDefault: "d", LandDefaultsPossible: words, LandName: "l", StorageManager: "m", Consent: permits.Written, StruckIn: "s",
		ShoreMetres: &n, Taxon: "t", Identified: y, Sex: "s", Age: "a", Acquired: "a", Plausible: words, Material: "m", Count: 1, EventCount: 1, SoftTissue: y,
		NestActive: y, EggsViable: y, Band: "b", Cause: "c", SuspectedCrime: y, SuspectedPoison: y, EvidenceReleased: y,
		DieoffReleased: y, CausedDeath: y, Euthanised: y, Activity: "a", Opportunistic: y, Research: y, WantsToKeep: y,
		Sale: y, LawfulHunt: y, OpenSeason: y, TrafficLane: y, OtherHazard: y, Authority: "a", PermitCopy: y,
		RenewalFiled: when.From.Date, RenewalComplete: y, RecipientAuthorised: y, BothRegistered: y, Commercial: y,
		DepositMade: y, CrossesBorder: y, LawfullyHeld: y, ActivityCount: &n, OfflineDevices: 2}
}
