package rules_test

import (
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/rules"
)

// TestAUnitOfGroundHasItsOwnDaysClockAndPersonToCall puts a heron on ground
// whose manager works on other days, by a clock that is not changed, while the
// country around it changes its own.
func TestAUnitOfGroundHasItsOwnDaysClockAndPersonToCall(t *testing.T) {
	zone := `"calendar":{"weekend":["sunday"],"zone":{"name":"Island/Town","summer":{"ahead":60,"source":"act 20","begins":{"month":3,"week":5,"hour":2},"ends":{"month":10,"week":5,"hour":3}}}},`
	text := strings.Replace(island, `"laws":`, zone+`"contacts":{"town":"the town hall"},"laws":`, 1)
	text = strings.Replace(text, lastRule, `"source_status":"sample"},
 {"id":"GROUND","layer":"place","effect":"note","contact":"town","when":{"fact":"land_manager","is":"tribal"},"because":"asked","citation":"act 21","source_status":"sample","duties":[{"code":"TELL","due":{"business_days":2}},{"code":"CALL","due":{"hours":24}}]},
 {"id":"ALWAYS","layer":"obligation","effect":"note","when":{"fact":"activity","is":"salvage"},"because":"always","citation":"act 22","source_status":"sample","duties":[{"code":"REPORT","due":{"business_days":2}},{"code":"PHONE","due":{"hours":24}}]}]}`, 1)
	b := book(t, everywhere, text)
	// Friday 28 March 2025; the clock is put on in the night to Sunday 30 March.
	friday := permits.When{From: permits.NewDate(2025, 3, 28).At(20, 0), To: permits.NewDate(2025, 3, 28).At(20, 0)}
	saturday := permits.When{From: permits.NewDate(2025, 3, 29).At(20, 0), To: permits.NewDate(2025, 3, 29).At(20, 0)}
	ours := &permits.Calendar{Weekend: []string{"friday", "saturday", "sunday"}, Zone: &permits.Zone{Name: "Island/Unit"}}
	for _, c := range []struct {
		name          string
		at            permits.When
		days          *permits.Calendar
		contact       string
		tell, call    string // of the rule about the ground
		report, phone string // of any other rule
		who           string
	}{
		{"no unit is drawn", friday, nil, "", "2025-03-31", "2025-03-29T20:00", "2025-03-31", "2025-03-29T20:00", "the town hall"},
		{"a unit that states nothing", friday, nil, "the warden", "2025-03-31", "2025-03-29T20:00", "2025-03-31", "2025-03-29T20:00", "the warden"},
		{"a unit with its own week", friday, ours, "the warden", "2025-04-01", "2025-03-29T20:00", "2025-03-31", "2025-03-29T20:00", "the warden"},
		{"over the change of the country's clock", saturday, nil, "", "2025-04-01", "2025-03-30T21:00", "2025-04-01", "2025-03-30T21:00", "the town hall"},
		{"on a unit whose clock is not changed", saturday, ours, "the warden", "2025-04-01", "2025-03-30T20:00", "2025-04-01", "2025-03-30T20:00", "the warden"},
	} {
		t.Run(c.name, func(t *testing.T) {
			one := find(func(x *rules.Case) {
				x.Possessed, x.Found = c.at, c.at
				x.LandDays, x.LandContact = c.days, c.contact
				x.In[rules.LandManager] = rules.Word("tribal")
			})
			v := b.Evaluate(one, rules.NewRegister(b, []permits.Authority{heronPermit()}))
			due := map[string]string{}
			for _, o := range v.Obligations {
				due[o.Code] = o.Due.At.String()
			}
			for code, want := range map[string]string{"TELL": c.tell, "CALL": c.call, "REPORT": c.report, "PHONE": c.phone} {
				if due[code] != want {
					t.Errorf("%s: got it due %s, want %s", code, due[code], want)
				}
			}
			for _, f := range v.Findings {
				want := ""
				if f.Rule == "GROUND" {
					want = c.who
				}
				if f.Contact != want {
					t.Errorf("%s: got %q to call, want %q", f.Rule, f.Contact, want)
				}
			}
		})
	}
}
