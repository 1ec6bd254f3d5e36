package screen_test

import (
	"slices"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// abroad are invented papers of other countries.
var abroad = []permits.Authority{
	paper("EN-LIC", "possession_licence", "GB", permits.Active, "Aves", "2026-01-01", "2026-12-31"),
	paper("CA-SIGNED", "migratory_bird_permit", "CA", permits.Active, "ca-mbca", "2026-01-01", "2026-12-31"),
	paper("CA-UNSIGNED", "migratory_bird_permit", "CA", permits.IssuedUnsigned, "ca-mbca", "2026-01-01", "2026-12-31"),
	paper("QLD-LC", "collection_authority_least_concern", "AU-QLD", permits.Active, "au-qld-least-concern", "2026-02-01", "2026-07-31"),
	paper("QLD-HOLD", "collection_authority_holding", "AU-QLD", permits.Active, "au-qld-least-concern", "2026-02-01", "2031-01-31"),
	paper("QLD-MUSEUM", "state_museum", "AU-QLD", permits.Active, "Aves", "2000-01-01", ""),
}

func paper(id, kind, where string, status permits.Status, taxa, from, to string) permits.Authority {
	a := permits.Authority{ID: id, Kind: kind, Basis: "invented", Jurisdiction: where, Holder: "An Invented Museum", Status: status, Sample: true,
		Persons: []permits.Grant{{Person: id}}, Area: []string{where}, TaxaInclude: []string{taxa}, Activities: []string{"salvage", "possess", "hold"}}
	a.ValidFrom, _ = permits.ParseDate(from)
	a.ValidTo, _ = permits.ParseDate(to)
	return a
}

// neutral are the questions that a rule engine made for one country alone would
// get wrong. Sources: Wildlife and Countryside Act 1981 s.1 and s.16; reporting
// thresholds of Defra and APHA as relayed; SOR/2022-105 ss.10-14; ontario.ca on
// keeping dead wildlife; Queensland's page on collecting dead protected animals.
var neutral = []struct {
	name   string
	person string
	where  string
	taxon  string
	day    string
	change func(*screen.Facts)
	want   permits.Outcome
	rule   permits.RuleID
	duty   string
	due    string
	relies string // the paper the answer rests on, or "" for none
}{
	{"United States: anybody, by chance, for donation, since 2024", "", "US-ZZ", "Turdus migratorius", "2026-06-14", nil,
		permits.AllowWithObligations, "R-PUBLIC-SALVAGE", "DONATE_OR_DESTROY", "", "AX-21.16"},
	{"United States: before that day there was no such rule", "", "US-ZZ", "Turdus migratorius", "2024-12-30", nil,
		permits.RefusePickup, "R-PERMIT-FIRST", "", "", ""},

	{"England: having a dead native bird is an offence unless its origin is shown", "", "GB-ENG", "Turdus migratorius", "2026-06-14", nil,
		permits.ReviewByPerson, "R-UK-POSS", "PROOF_OF_ORIGIN", "", ""},
	{"England: a licence is enough, and the proof stays with the bird", "EN-LIC", "GB-ENG", "Turdus migratorius", "2026-06-14", nil,
		permits.AllowWithObligations, "R-UK-POSS", "PROOF_OF_ORIGIN", "", "EN-LIC"},
	{"England: disease is told the same day, whatever the licence", "EN-LIC", "GB-ENG", "Cygnus olor", "2026-06-14", nil,
		permits.HoldCallFirst, "R-DIEOFF-GB", "REPORT_DEFRA", "2026-06-14", "EN-LIC"},

	{"Ontario: what is no migratory bird may mostly be kept", "", "CA-ON", "Procyon lotor", "2026-06-14", nil,
		permits.AllowWithObligations, "R-CA-ON", "", "", ""},
	{"Ontario: a raptor wants a notice before it is kept", "", "CA-ON", "Buteo jamaicensis", "2026-05-09", nil,
		permits.AllowWithObligations, "R-CA-ON", "NOTICE_OF_POSSESSION", "", ""},
	{"Ontario: a migratory bird is federal and wants authority", "", "CA-ON", "Catharus ustulatus", "2026-06-14", nil,
		permits.ReviewByPerson, "R-CA-MBR", "ASK_PERMIT_OFFICER", "", ""},
	{"Ontario: a signed permit is authority", "CA-SIGNED", "CA-ON", "Catharus ustulatus", "2026-06-14", nil,
		permits.AllowWithObligations, "R-CA-MBR", "ACCESSION_PERMIT_NO", "", "CA-SIGNED"},
	{"Ontario: a permit that nobody signed is void", "CA-UNSIGNED", "CA-ON", "Catharus ustulatus", "2026-06-14", nil,
		permits.RefusePickup, "R-CA-MBR", "OBSERVATION_ONLY", "", ""},

	{"Queensland: authority is needed", "", "AU-QLD", "Trichoglossus moluccanus", "2026-03-20", nil,
		permits.RefusePickup, "R-AU-QLD", "OBSERVATION_ONLY", "", ""},
	{"Queensland: it is tied to one premises and ends on its day", "QLD-LC", "AU-QLD", "Trichoglossus moluccanus", "2026-03-20", nil,
		permits.AllowWithObligations, "R-AU-QLD", "NO_KEEPING_AFTER_EXPIRY", "2026-07-31", "QLD-LC"},
	{"Queensland: no authority reaches what is not of least concern", "QLD-LC", "AU-QLD", "Turdus migratorius", "2026-03-20", nil,
		permits.RefusePickup, "R-AU-QLD", "", "", ""},
	{"Queensland: an authority to hold is none to take", "QLD-HOLD", "AU-QLD", "Trichoglossus moluccanus", "2026-03-20", nil,
		permits.RefusePickup, "R-AU-QLD", "", "", ""},
	{"Queensland: it holds for five years", "QLD-HOLD", "AU-QLD", "Trichoglossus moluccanus", "2030-03-20",
		func(f *screen.Facts) { f.Activity = "hold" }, permits.AllowWithObligations, "R-AU-QLD", "NO_KEEPING_AFTER_EXPIRY", "2031-01-31", "QLD-HOLD"},
	{"Queensland: the right to hold ends with the authority", "QLD-LC", "AU-QLD", "Trichoglossus moluccanus", "2026-08-01",
		func(f *screen.Facts) { f.Activity, f.InHand = "hold", permits.Yes }, permits.BreachToResolve, "R-AU-QLD", "TRANSFER_NOW", "", ""},
	{"Queensland: the State Museum needs no permit", "QLD-MUSEUM", "AU-QLD", "Trichoglossus moluccanus", "2026-03-20", nil,
		permits.AllowWithObligations, "R-AU-QLD", "RECORD_ORIGIN", "", "QLD-MUSEUM"},
	{"Queensland: but not in a protected area", "QLD-MUSEUM", "AU-QLD", "Trichoglossus moluccanus", "2026-03-20",
		func(f *screen.Facts) { f.LandManager = "national_park" }, permits.RefusePickup, "R-AU-QLD", "", "", ""},
}

func TestNothingInTheEngineIsAmerican(t *testing.T) {
	w := loadWorld(t, []byte("[]"))
	w.Register = rules.NewRegister(w.Book, abroad)
	for _, c := range neutral {
		day, err := permits.ParseDate(c.day)
		if err != nil {
			t.Fatal(err)
		}
		f := owl(func(f *screen.Facts) {
			f.Person, f.Role, f.Jurisdictions, f.Taxon, f.LandManager = c.person, "staff", []string{c.where}, c.taxon, "private"
			f.Found, f.Possessed, f.JudgedAt = permits.On(day), permits.On(day), permits.Moment{Date: day}
			if f.Person == "" {
				f.Role = "public"
			}
			if c.change != nil {
				c.change(f)
			}
		})
		v := screen.Check(&f, w)
		if v.Outcome != c.want || v.Deciding.Rule != c.rule {
			t.Errorf("%s: got %s by %s (%s), want %s by %s", c.name, v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want, c.rule)
			continue
		}
		i := slices.IndexFunc(v.Obligations, func(o permits.Obligation) bool { return o.Code == c.duty })
		if c.duty != "" && (i < 0 || c.due != "" && v.Obligations[i].Due.At.String() != c.due) {
			t.Errorf("%s: got duties %v, want %s due %s", c.name, v.Obligations, c.duty, c.due)
		}
		if c.relies != "" && !slices.ContainsFunc(v.Relies, func(r permits.Reliance) bool { return r.Authority == c.relies }) ||
			c.relies == "" && slices.ContainsFunc(v.Relies, func(r permits.Reliance) bool { return r.Authority != "" }) {
			t.Errorf("%s: got it to rest on %v, want %q", c.name, v.Relies, c.relies)
		}
	}
}

// TestTheEngineHoldsNoLaw runs a book of the pack for everywhere and one of a
// country that is on no list: no other rule may speak.
func TestTheEngineHoldsNoLaw(t *testing.T) {
	var all []*rules.Pack
	for _, f := range packs.Rules() {
		if f.Name != "common.json" {
			continue
		}
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	own, err := rules.Load("own.json", []byte(`{"id":"qq","version":"1","title":"Nowhere","sample":true,"notice":"SAMPLE","jurisdiction":"QQ","place":"Nowhere",
	 "reviewer":"nobody","sources":{"X":"invented"},"laws":[],"rules":[{"id":"N-FREE","layer":"authority","effect":"note","when":{"fact":"activity","known":true},
	 "because":"Nothing is asked for in {place}.","citation":"invented","sources":["X"],"source_status":"sample","speaks":true}]}`))
	if err != nil {
		t.Fatal(err)
	}
	book, err := rules.NewBook(append(all, own)...)
	if err != nil {
		t.Fatal(err)
	}
	w := loadWorld(t, []byte("[]"))
	w.Book, w.Register = book, rules.NewRegister(book, nil)
	for _, taxon := range []string{"Bald Eagle", "Eastern Screech-Owl", "Piping Plover", "Procyon lotor"} {
		f := owl(func(f *screen.Facts) { f.Taxon, f.Jurisdictions = taxon, []string{"QQ"} })
		v := screen.Check(&f, w)
		if v.Outcome != permits.AllowWithObligations || v.Deciding.Because != "Nothing is asked for in Nowhere." || len(v.Findings) != 1 {
			t.Errorf("%s: got %s, findings %s; want the one rule of the pack alone", taxon, v.Outcome, show(v.Findings))
		}
	}
}
