package server_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// narrowPapers enters the sample papers, the state's with another list of
// numbers.
func narrowPapers(t *testing.T, m *museum, numbers ...permits.Quota) {
	t.Helper()
	var all []permits.Authority
	if err := json.Unmarshal(packs.DemoAuthorities(), &all); err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if a.ID == "SW-MI-SALV" {
			a.Quotas = numbers
		}
		m.lists(a)
		expect(t, "enter "+a.ID, m.as("desmond").send("PUT", "/v1/permits/"+a.ID, a, nil), http.StatusOK)
	}
}

// usedOf is what is used of a number by the gauge and by what phones are told.
func usedOf(t *testing.T, m *museum, id string) (gauge, kit int) {
	t.Helper()
	var balance struct {
		Balances []struct {
			Quota      string
			Used, Over int
		}
	}
	expect(t, "balance", m.as("desmond").get("/v1/permits/SW-MI-SALV/balance"), http.StatusOK).into(t, &balance)
	gauge, kit = -1, -1
	for _, n := range balance.Balances {
		if n.Quota == id {
			gauge = n.Used + n.Over
		}
	}
	var told struct{ Tallies quota.Fixed }
	expect(t, "kit", m.as("cal").get("/v1/field-kit"), http.StatusOK).into(t, &told)
	for _, s := range told.Tallies {
		if s.Authority == "SW-MI-SALV" && s.Quota == id {
			kit = s.Used
		}
	}
	return gauge, kit
}

// owls pushes screech owls that were taken one after the other.
func owls(t *testing.T, p *phone, n int, change func(i int, f map[string]any)) {
	t.Helper()
	var ops [][]byte
	for i := range n {
		at := fmt.Sprintf("2025-10-03T13:%02d", 10+i)
		f := find(map[string]any{"found": record.When{Earliest: at, Latest: at, Precision: record.ToMinute, Zone: "-04:00"}})
		if change != nil {
			change(i, f)
		}
		ops = append(ops, p.save(groups(t, op.ID{1, byte(i + 1)}, f, op.ID{2, byte(i + 1)})...))
	}
	p.push(ops...)
}

func correct(t *testing.T, m *museum, animal op.ID, field, value string) {
	t.Helper()
	var whole struct {
		Fields []struct {
			Field string
			Said  []struct{ Dot string }
		}
	}
	saw := []string{}
	expect(t, "animal", m.as("gwen").get("/v1/animals/"+animal.String()), http.StatusOK).into(t, &whole)
	for _, f := range whole.Fields {
		for _, s := range f.Said {
			if f.Field == field {
				saw = append(saw, s.Dot)
			}
		}
	}
	expect(t, field, m.as("gwen").post("/v1/animals/"+animal.String()+"/fields/"+field, map[string]any{"value": value, "saw": saw}), http.StatusOK)
}

func TestAnAnimalOfUnknownSexCountsAgainstEveryNumberUntilItIsKnown(t *testing.T) {
	m := open(t, nil)
	narrowPapers(t, m,
		permits.Quota{ID: "females", Per: "all", Sexes: []string{"female"}, Limit: 2, Window: "calendar_year"},
		permits.Quota{ID: "males", Per: "all", Sexes: []string{"male"}, Limit: 9, Window: "calendar_year"})
	owls(t, m.phone("cal", 1), 3, nil)
	over := func() string { return string(m.as("gwen").get("/v1/review").body) }
	for _, step := range []struct {
		name           string
		animal         byte
		sex            string
		females, males int
		doubt          bool
	}{
		{"nobody has looked", 0, "", 3, 3, true},
		{"the first is a male", 1, "male", 2, 3, false},
		{"the second is a female", 2, "female", 2, 2, false},
		{"the third is a female with a question mark", 3, "female?", 2, 2, false},
		{"the third is a female", 3, "female", 2, 1, false},
	} {
		if step.animal > 0 {
			correct(t, m, op.ID{2, step.animal}, "sex", step.sex)
		}
		for id, want := range map[string]int{"females": step.females, "males": step.males} {
			if gauge, kit := usedOf(t, m, id); gauge != want || kit != want {
				t.Errorf("%s: got %d %s on the gauge and %d for phones, want %d of both", step.name, gauge, id, kit, want)
			}
		}
		var year struct {
			Total   int
			Entries []struct{ Over bool }
		}
		expect(t, "year", m.as("desmond").get("/v1/permits/SW-MI-SALV/years/2025"), http.StatusOK).into(t, &year)
		beyond := 0
		for _, e := range year.Entries {
			if e.Over {
				beyond++
			}
		}
		if want := max(0, step.females-2); beyond != want || year.Total != 3-want {
			t.Errorf("%s: got %d of the year’s report over and %d in its table, want %d and %d", step.name, beyond, year.Total, want, 3-want)
		}
		if list := over(); strings.Contains(list, `"code":"over_quota"`) != step.doubt {
			t.Errorf("%s: got %s, want a question about the number: %v", step.name, list, step.doubt)
		}
	}
}

func TestANumberThatCountsAtTheReceipt(t *testing.T) {
	m := open(t, nil)
	narrowPapers(t, m, permits.Quota{ID: "deposits", Per: "all", Limit: 9, Window: "calendar_year", CountsWhen: permits.AtDeposit})
	owls(t, m.phone("cal", 1), 3, func(i int, f map[string]any) {
		if i == 2 {
			f["deed"] = "left"
		}
	})
	if gauge, kit := usedOf(t, m, "deposits"); gauge != 2 || kit != 2 {
		t.Errorf("two in a private freezer: got %d on the gauge and %d for phones, want both 2, since they may come in", gauge, kit)
	}
	correct(t, m, op.ID{2, 1}, "disposition", "agency")
	if gauge, kit := usedOf(t, m, "deposits"); gauge != 1 || kit != 1 {
		t.Errorf("one went to an agency: got %d on the gauge and %d for phones, want both 1", gauge, kit)
	}
}

func TestANumberThatCountsFindsLeftInPlace(t *testing.T) {
	m := open(t, nil)
	narrowPapers(t, m, permits.Quota{ID: "finds", Per: "all", Limit: 9, Window: "calendar_year", CountsWhen: permits.AtFind},
		permits.Quota{ID: "taken", Per: "all", Limit: 9, Window: "calendar_year"})
	owls(t, m.phone("cal", 1), 3, func(i int, f map[string]any) {
		if i == 2 {
			f["deed"], f["signs"] = "left", record.Signs{Crime: "no", Caused: "no", Planned: "no", Research: "no", Keep: "no", PermitCopy: "yes", Danger: "no", InHand: "no", Others: "no"}
		}
	})
	for id, want := range map[string]int{"finds": 3, "taken": 2} {
		if gauge, kit := usedOf(t, m, id); gauge != want || kit != want {
			t.Errorf("got %d %s on the gauge and %d for phones, want %d of both", gauge, id, kit, want)
		}
	}
}

func TestAmendingAtTheDeskLosesNothingThatTheFormDoesNotShow(t *testing.T) {
	m := open(t, nil)
	season := &permits.Season{}
	season.From, _ = permits.ParseMonthDay("11-15")
	season.To, _ = permits.ParseMonthDay("02-10")
	number := permits.Quota{ID: "females", Per: "all", Sexes: []string{"female"}, Ages: []string{"adult"}, ExemptCauses: []string{"window"}, Acquired: []string{permits.FoundDead},
		Limit: 5, Window: "season", Season: season, CountsWhen: permits.AtDeposit, WarnPercent: 80, Units: []string{"carcass"}, Shared: "permit"}
	narrowPapers(t, m, number)
	page := "/permits/SW-MI-SALV/amend"
	in := typedIn(t, expect(t, "form", m.desk("desmond").get(page), http.StatusOK).body, page)
	in.Set("limit.0", "4")
	in.Set("step", "save")
	expect(t, "save", m.desk("desmond").post(page, in), http.StatusSeeOther)
	var sheet struct{ Document permits.Authority }
	expect(t, "sheet", m.as("desmond").get("/v1/permits/SW-MI-SALV"), http.StatusOK).into(t, &sheet)
	number.Limit = 4
	got, err := json.Marshal(sheet.Document.Quotas)
	if err != nil {
		t.Fatal(err)
	}
	want, err := json.Marshal([]permits.Quota{number})
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != string(want) {
		t.Errorf("got %s, want %s", got, want)
	}
}
