package rules_test

import (
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
)

func bookOf(t *testing.T) *rules.Book {
	t.Helper()
	var all []*rules.Pack
	for _, f := range packs.Rules() {
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	book, err := rules.NewBook(all...)
	if err != nil {
		t.Fatal(err)
	}
	return book
}

// TestWhatAPaperItselfAsksFor holds the renewal (50 CFR 13.22(c), memory), the
// sixty days (50 CFR 21.73(c)(1)) and the five years of records (50 CFR 13.46,
// memory) to the day.
func TestWhatAPaperItselfAsksFor(t *testing.T) {
	book := bookOf(t)
	end := permits.NewDate(2026, 3, 31)
	for _, c := range []struct {
		name  string
		paper permits.Authority
		want  string
		until string
	}{
		{"a salvage permit", permits.Authority{ID: "P", Kind: "special_purpose_salvage", Jurisdiction: "US", Status: permits.Active, ValidTo: end},
			"FILE_RENEWAL 2026-03-01", "2031-03-31"},
		{"a collecting permit", permits.Authority{ID: "P", Kind: "scientific_collecting_with_salvage", Jurisdiction: "US", Status: permits.Active, ValidTo: end},
			"FILE_RENEWAL 2026-03-01, HAND_IN_SPECIMENS 2026-05-30", "2031-03-31"},
		{"one that was revoked before its end", permits.Authority{ID: "P", Kind: "scientific_collecting_with_salvage", Jurisdiction: "US", Status: permits.Revoked,
			ValidTo: end, Ended: permits.NewDate(2025, 12, 15)}, "FILE_RENEWAL 2025-11-15, HAND_IN_SPECIMENS 2026-02-13", "2030-12-15"},
		{"a permit without an end", permits.Authority{ID: "P", Kind: "special_purpose_salvage", Jurisdiction: "US", Status: permits.Active}, "", ""},
		{"a permit that nobody signed", permits.Authority{ID: "P", Kind: "special_purpose_salvage", Jurisdiction: "US", Status: permits.IssuedUnsigned, ValidTo: end}, "", "2031-03-31"},
		{"a paper of another country", permits.Authority{ID: "P", Kind: "special_purpose_salvage", Jurisdiction: "CA", Status: permits.Active, ValidTo: end}, "", "no such rule"},
	} {
		var got []string
		for _, o := range book.PaperDuties(&c.paper) {
			got = append(got, o.Code+" "+o.Due.At.String())
			if permits.DutyText(o.Code) == "" || o.Authority != "P" || o.Rule == "" {
				t.Errorf("%s: %+v has no plain words, no paper or no rule", c.name, o)
			}
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("%s: got %q, want %q", c.name, s, c.want)
		}
		until, life := "no such rule", false
		for _, k := range book.Keep(&c.paper) {
			if life = life || k.Life; !k.Life {
				until = k.Until.String()
			}
			if k.What == "" || k.Cites == "" || k.SourceStatus == "" {
				t.Errorf("%s: %+v lacks words or a citation", c.name, k)
			}
		}
		if until != c.until || !life {
			t.Errorf("%s: got records until %q and proof for life %v, want %q and true", c.name, until, life, c.until)
		}
	}
}

func TestRecordsAreNotThrownAwayTooEarly(t *testing.T) {
	five, err := rules.Load("five.json", []byte(`{"id":"qq","version":"1","title":"Nowhere","sample":true,"notice":"SAMPLE","jurisdiction":"QQ","place":"Nowhere",
	 "reviewer":"nobody","sources":{},"laws":[],"rules":[{"id":"OPEN","layer":"taxon","effect":"review","referred":true,"because":"Ask.","citation":"x","source_status":"sample"}],
	 "retention":[{"rule":"R-RECORDS","what":"the records","anchor":"expiry","years":5,"citation":"x","source_status":"sample"}]}`))
	if err != nil {
		t.Fatal(err)
	}
	everywhere, err := rules.Load("all.json", []byte(`{"id":"all","version":"1","title":"All","sample":true,"notice":"SAMPLE","jurisdiction":"*","reviewer":"nobody","sources":{},
	 "laws":[],"rules":[{"id":"OPEN","layer":"taxon","effect":"review","referred":true,"because":"Ask.","citation":"x","source_status":"sample"}],
	 "roles":{"unidentified":"OPEN","edge":"OPEN","no_pack":"OPEN","no_place":"OPEN","silent":"OPEN"}}`))
	if err != nil {
		t.Fatal(err)
	}
	book, err := rules.NewBook(everywhere, five)
	if err != nil {
		t.Fatal(err)
	}
	ended := permits.Authority{ID: "P", Name: "State permit", Kind: "x", Jurisdiction: "QQ", ValidTo: permits.NewDate(2026, 3, 31)}
	open, elsewhere := ended, ended
	open.ValidTo, elsewhere.Jurisdiction = 0, "XX"
	for _, c := range []struct {
		name  string
		paper permits.Authority
		on    permits.Date
		may   bool
		says  string
	}{
		{"on the last day", ended, permits.NewDate(2031, 3, 31), false, "until the end of 31 March 2031"},
		{"a day later", ended, permits.NewDate(2031, 4, 1), true, "any longer"},
		{"on a day that is not known", ended, 0, false, "until the end of"},
		{"a paper without an end", open, permits.NewDate(2099, 1, 1), false, "no end yet"},
		{"a paper that no rule speaks of", elsewhere, permits.NewDate(2099, 1, 1), false, "keep them"},
	} {
		may, says := book.MayDiscard(&c.paper, c.on)
		if may != c.may || !strings.Contains(says, c.says) {
			t.Errorf("%s: got %v, %q; want %v and %q in it", c.name, may, says, c.may, c.says)
		}
	}
	if may, says := bookOf(t).MayDiscard(&ended, permits.NewDate(2099, 1, 1)); may || !strings.Contains(says, "as long as the specimen") {
		t.Errorf("got %v, %q; want the proof of origin kept for ever", may, says)
	}
}

func TestAPoorRetentionIsNamed(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"no years", `"retention":[{"rule":"R","what":"w","anchor":"expiry","citation":"x","source_status":"sample"}]`, "how many years"},
		{"years of a life", `"retention":[{"rule":"R","what":"w","anchor":"specimen","years":2,"citation":"x","source_status":"sample"}]`, "has no years"},
		{"another anchor", `"retention":[{"rule":"R","what":"w","anchor":"moon","years":2,"citation":"x","source_status":"sample"}]`, "none of expiry, disposal, year_end, specimen"},
		{"no citation", `"retention":[{"rule":"R","what":"w","anchor":"expiry","years":2,"source_status":"sample"}]`, "cite it"},
		{"a duty counted from the pick-up", `"paper_duties":[{"code":"A","rule":"R","due":{"days":3},"citation":"x","source_status":"sample"}]`, "counted from its end or"},
		{"a severity that there is not", `"paper_duties":[{"code":"A","rule":"R","severity":"grave","due":{"days":3,"anchor":"expiry"},"citation":"x","source_status":"sample"}]`, "neither law, condition nor advisory"},
		{"a duty without a clock", `"paper_duties":[{"code":"A","rule":"R","due":{"anchor":"expiry"},"citation":"x","source_status":"sample"}]`, "0 clocks"},
	} {
		_, err := rules.Load("p.json", []byte(`{"id":"p","version":"1","title":"P","jurisdiction":"QQ","reviewer":"n","sources":{},"laws":[],"rules":[],`+c.text+`}`))
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Count(err.Error(), "\n") > 0 {
			t.Errorf("%s: got %v, want one fault that says %q", c.name, err, c.says)
		}
	}
}

// TestYearsAreCountedFromWhatTheLawNames holds the anchors that states name:
// two years after disposal, three after the year's end (17 Ill. Adm. Code
// 885.140; COMAR 08.03.15.27, years from the sources, anchors as the loader
// knows them).
func TestYearsAreCountedFromWhatTheLawNames(t *testing.T) {
	pack, err := rules.Load("states.json", []byte(`{"id":"qq","version":"1","title":"Nowhere","sample":true,"notice":"SAMPLE","jurisdiction":"QQ","place":"Nowhere",
	 "reviewer":"nobody","sources":{},"laws":[],"rules":[{"id":"OPEN","layer":"taxon","effect":"review","referred":true,"because":"Ask.","citation":"x","source_status":"sample"}],
	 "retention":[{"rule":"A","what":"the register","authority_kinds":["a"],"anchor":"disposal","years":2,"citation":"x","source_status":"sample"},
	  {"rule":"B","what":"the year's records","authority_kinds":["b"],"anchor":"year_end","years":3,"citation":"x","source_status":"sample"}]}`))
	if err != nil {
		t.Fatal(err)
	}
	every, err := rules.Load("every.json", []byte(everywhere))
	if err != nil {
		t.Fatal(err)
	}
	book, err := rules.NewBook(every, pack)
	if err != nil {
		t.Fatal(err)
	}
	day := permits.NewDate
	for _, c := range []struct {
		name, kind string
		life       rules.Life
		holds      []string
		on         permits.Date
		may        bool
		says       string
	}{
		{"not disposed of yet", "a", rules.Life{Taken: day(2020, 5, 1)}, nil, day(2099, 1, 1), false, "has not been given away"},
		{"two years after it was", "a", rules.Life{Disposed: day(2024, 6, 30)}, nil, day(2026, 6, 30), false, "30 June 2026"},
		{"and the day after", "a", rules.Life{Disposed: day(2024, 6, 30)}, nil, day(2026, 7, 1), true, "any longer"},
		{"and held all the same", "a", rules.Life{Disposed: day(2024, 6, 30)}, []string{"Evidence."}, day(2026, 7, 1), false, "it is held (Evidence)"},
		{"held and released on a document", "a", rules.Life{Disposed: day(2024, 6, 30)}, []string{permits.Release{By: "G. Marsh", Document: "letter 14", Reason: "no poison"}.Text()}, day(2026, 7, 1), true, "any longer"},
		{"three years after the end of its year", "b", rules.Life{Taken: day(2022, 5, 1)}, nil, day(2025, 12, 31), false, "31 December 2025"},
		{"and the day after that", "b", rules.Life{Taken: day(2022, 5, 1)}, nil, day(2026, 1, 1), true, "any longer"},
		{"taken nobody knows when", "b", rules.Life{}, nil, day(2099, 1, 1), false, "in which year"},
	} {
		a := permits.Authority{ID: "P", Kind: c.kind, Jurisdiction: "QQ", ValidTo: day(2021, 12, 31)}
		may, says := book.MayDiscardOf(&a, c.life, c.holds, c.on)
		if may != c.may || !strings.Contains(says, c.says) {
			t.Errorf("%s: got %v, %q; want %v and %q in it", c.name, may, says, c.may, c.says)
		}
	}
}
