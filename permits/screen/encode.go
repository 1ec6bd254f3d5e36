package screen

import (
	"encoding/json"
	"strconv"
	"wayfall/permits"
)

// writer writes facts as encoding/json would, byte for byte, at a tenth of the
// cost; a test holds it to that.
type writer struct{ b []byte }

func (w *writer) name(name string) {
	if len(w.b) > 1 {
		w.b = append(w.b, ',')
	}
	w.b = append(w.b, '"')
	w.b = append(w.b, name...)
	w.b = append(w.b, '"', ':')
}

func (w *writer) quote(s string) {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			quoted, err := json.Marshal(s)
			if err != nil {
				return // a string can always be written
			}
			w.b = append(w.b, quoted...)
			return
		}
	}
	w.b = append(w.b, '"')
	w.b = append(w.b, s...)
	w.b = append(w.b, '"')
}

func (w *writer) text(name, s string) {
	if s != "" {
		w.name(name)
		w.quote(s)
	}
}

func (w *writer) answer(name string, a permits.Answer) {
	if a.Known() {
		w.name(name)
		w.b = strconv.AppendBool(w.b, a == permits.Yes)
	}
}

func (w *writer) number(name string, n int) {
	w.name(name)
	w.b = strconv.AppendInt(w.b, int64(n), 10)
}

func (w *writer) list(name string, list []string) {
	if len(list) == 0 {
		return
	}
	w.name(name)
	w.b = append(w.b, '[')
	for i, s := range list {
		if i > 0 {
			w.b = append(w.b, ',')
		}
		w.quote(s)
	}
	w.b = append(w.b, ']')
}

// append writes the facts in the order of their fields.
func (f *Facts) append(b []byte) []byte {
	w := writer{append(b, '{')}
	f.who(&w)
	f.what(&w)
	return append(w.b, '}')
}

// who writes who, when and where.
func (f *Facts) who(w *writer) {
	w.text("person", f.Person)
	w.text("role", f.Role)
	w.answer("official_duty", f.OfficialDuty)
	w.answer("designated", f.Designated)
	w.answer("barred", f.Barred)
	w.text("found", f.Found.String())
	w.text("possessed", f.Possessed.String())
	w.text("judged_at", f.JudgedAt.String())
	w.answer("in_hand", f.InHand)
	w.list("jurisdictions", f.Jurisdictions)
	w.list("jurisdictions_possible", f.JurisdictionsPossible)
	w.list("units", f.Units)
	w.text("site", f.Site)
	w.text("land_manager", f.LandManager)
	w.list("land_managers_possible", f.LandManagersPossible)
	w.text("land_default", f.LandDefault)
	w.list("land_defaults_possible", f.LandDefaultsPossible)
	w.text("land_name", f.LandName)
	w.text("storage_manager", f.StorageManager)
	w.text("landowner_consent", string(f.Consent))
	w.text("struck_in", f.StruckIn)
	if f.ShoreMetres != nil {
		w.number("distance_to_shore_m", *f.ShoreMetres)
	}
	w.text("taxon", f.Taxon)
}

// what writes what, why and on which papers.
func (f *Facts) what(w *writer) {
	w.answer("identified", f.Identified)
	w.text("sex", f.Sex)
	w.text("age", f.Age)
	w.text("acquired", f.Acquired)
	w.list("plausible", f.Plausible)
	w.text("material", f.Material)
	if f.Count != 0 {
		w.number("count", f.Count)
	}
	if f.EventCount != 0 {
		w.number("event_carcass_count", f.EventCount)
	}
	w.answer("soft_tissue", f.SoftTissue)
	w.answer("nest_active", f.NestActive)
	w.answer("eggs_viable", f.EggsViable)
	w.text("band", f.Band)
	w.text("cause", f.Cause)
	w.answer("suspected_crime", f.SuspectedCrime)
	w.answer("suspected_poison", f.SuspectedPoison)
	w.answer("evidence_released", f.EvidenceReleased)
	w.answer("dieoff_released", f.DieoffReleased)
	w.answer("salvager_caused_death", f.CausedDeath)
	w.answer("euthanised", f.Euthanised)
	w.text("activity", f.Activity)
	w.answer("opportunistic", f.Opportunistic)
	w.answer("research_purpose", f.Research)
	w.answer("wants_to_keep", f.WantsToKeep)
	w.answer("sale", f.Sale)
	w.answer("lawful_hunt", f.LawfulHunt)
	w.answer("open_season", f.OpenSeason)
	w.answer("in_live_traffic_lane", f.TrafficLane)
	w.answer("other_hazard", f.OtherHazard)
	w.text("authority", f.Authority)
	w.answer("permit_copy_on_hand", f.PermitCopy)
	w.text("renewal_filed", f.RenewalFiled.String())
	w.answer("renewal_complete", f.RenewalComplete)
	w.answer("recipient_authorised", f.RecipientAuthorised)
	w.answer("both_registered", f.BothRegistered)
	w.answer("commercial", f.Commercial)
	w.answer("deposit_made", f.DepositMade)
	w.answer("crosses_border", f.CrossesBorder)
	w.answer("lawfully_held", f.LawfullyHeld)
	if f.ActivityCount != nil {
		w.number("activity_count", *f.ActivityCount)
	}
	if f.OfflineDevices != 0 {
		w.number("offline_devices", f.OfflineDevices)
	}
}
