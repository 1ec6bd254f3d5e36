package web

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// museum is a desk over a log in memory, with people of our demo scenario.
type museum struct {
	t     testing.TB
	log   *catalogue.Memory
	desk  *Desk
	door  *people.Book
	site  *httptest.Server
	seq   map[byte]uint64
	ids   uint64
	codes map[string]string
}

var sampleDay = time.Date(2025, 11, 20, 15, 30, 0, 0, time.UTC)

func newMuseum(t testing.TB) *museum {
	m := &museum{t: t, seq: map[byte]uint64{}, codes: map[string]string{}, log: &catalogue.Memory{Device: op.DeviceID{255}, Scope: "sablewater"}}
	book := catalogue.Open(m.log, catalogue.Surroundings{})
	door, err := people.Open(&people.Memory{}, people.Terms{Issuer: "sablewater", Key: make([]byte, 32), Now: func() time.Time { return sampleDay }, Chance: rand.Reader})
	m.must(err)
	m.door = door
	for _, p := range []people.Person{
		{ID: "p-farrow", Name: "Desmond Farrow", Roles: []people.Role{people.PermitOfficer}},
		{ID: "p-stasik", Name: "Gwendolyn Stasik", Roles: []people.Role{people.Registrar}},
		{ID: "p-marchetti", Name: "Teo Marchetti", Roles: []people.Role{people.Preparator}},
		{ID: "p-reader", Name: "A Reader", Roles: []people.Role{people.Reader}},
		{ID: "p-ana", Name: "Ana Petrosyan-Reed", Roles: []people.Role{people.Salvager}},
		{ID: "p-cal", Name: "Cal Whitlock", Roles: []people.Role{people.Salvager}},
		{ID: "p-quist", Name: "Lena Quist", Roles: []people.Role{people.Salvager}},
	} {
		m.must(door.Keep(context.Background(), p))
	}
	m.desk = &Desk{
		Institution: "Sablewater Museum of Natural History", Device: op.DeviceID{255}.String(), Demo: true, Now: func() time.Time { return sampleDay },
		Zone: time.FixedZone("", -5*3600), Door: door, Book: book,
		Hands:  &catalogue.Clerk{Book: book, Writer: m.log, NewID: func() (op.ID, error) { return m.id(), nil }},
		Failed: func(c echo.Context, err error) { t.Errorf("%s %s: %v", c.Request().Method, c.Request().URL, err) },
	}
	e := echo.New()
	m.desk.Register(e.Group(""))
	m.site = httptest.NewServer(e)
	t.Cleanup(m.site.Close)
	return m
}

func (m *museum) must(err error) {
	m.t.Helper()
	if err != nil {
		m.t.Fatal(err)
	}
}

func (m *museum) id() op.ID {
	var id op.ID
	m.ids++
	binary.BigEndian.PutUint64(id[8:], m.ids)
	return id
}

func val(v any) op.Value {
	out, err := op.ValueOf(v)
	if err != nil {
		panic(err)
	}
	return out
}

func (m *museum) save(n byte, who string, at time.Time, groups ...op.Group) {
	m.seq[n]++
	m.log.Take(op.Op{
		Dev: op.DeviceID{n}, Seq: m.seq[n], HLC: clock.At(at), Wall: op.Wall{Millis: at.UnixMilli(), Zone: "-04:00", Source: "device"},
		Actor: who, Scope: "sablewater", Schema: 1, On: groups,
	}, at.UnixMilli()+4000)
}

func onDay(day string) record.When {
	return record.When{Earliest: day + "T07:40", Latest: day + "T07:40", Precision: record.ToMinute, Zone: "-04:00"}
}

func makeTag(n uint) string {
	made, err := tag.Make("K7Q", n)
	if err != nil {
		panic(err)
	}
	return made.String()
}

type seenFind struct {
	n                          byte
	who, day, name, sci, place string
	county, outcome, deed      string
	lat, lon, radius           float64
	tag                        uint
}

func verdictFor(outcome, authority string) permits.Verdict {
	v := permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take, Sample: true, Findings: []permits.Finding{
		{Rule: "R-STATE", Layer: permits.AuthorityLayer, Effect: permits.Allows, Because: "The museum’s state salvage permit covers you here today.", Cites: "sample pack, section 2"},
		{Rule: "R-LAND", Layer: permits.PlaceLayer, Effect: permits.Allows, Because: "The road authority agreed in writing.", Cites: "common practice"},
	}}
	v.Relies = []permits.Reliance{{Law: "state", Authority: authority, Version: 1}}
	v.Obligations = []permits.Obligation{
		{Code: "TAG", Due: permits.Due{Word: "immediately"}, Rule: "R-TAG"},
		{Code: "DEPOSIT", Due: permits.Due{At: permits.Moment{Date: permits.NewDate(2025, 12, 31)}}, Rule: "R-DEPOSIT", Authority: authority},
	}
	switch outcome {
	case "ask":
		v.Outcome, v.Act = permits.ReviewByPerson, permits.Ask
		v.Findings = append([]permits.Finding{{Rule: "R-LAND", Layer: permits.PlaceLayer, Effect: permits.Asks, Because: "Nobody asked who controls this ground.", Cites: "sample pack, section 4"}}, v.Findings...)
	case "stop":
		v.Outcome, v.Act, v.Relies, v.Obligations = permits.HoldCallFirst, permits.Leave, nil, nil
		v.Findings = []permits.Finding{{Rule: "R-EAGLE", Layer: permits.TaxonLayer, Effect: permits.Holds, Because: "Eagles stay where they lie. Call wildlife law enforcement.", Cites: "sample pack, section 7"}}
	}
	v.Deciding = v.Findings[0]
	return v
}

func (m *museum) find(f seenFind) (report, animal op.ID) {
	report, animal = m.id(), m.id()
	at, err := time.Parse("2006-01-02T15:04-07:00", f.day+"T07:52-04:00")
	m.must(err)
	det := record.Determination{Written: f.name, Name: f.sci, Certainty: record.Sure, By: f.who}
	decay := 1
	m.save(f.n, f.who, at,
		op.Group{ID: report, Kind: "report", Acts: []op.Act{
			op.Set("fieldno", val(fmt.Sprintf("%s-%d", f.who[2:4], m.ids))), op.Set("salvager", val(f.who)), op.Set("found", val(onDay(f.day))),
			op.Set("taxon", val(det)), op.Set("locality", val(f.place)), op.Set("circumstance", val("road")), op.Set("material", val("carcass")),
			op.Set("place", val(record.Georeference{Known: true, Lat: f.lat, Lon: f.lon, Datum: "WGS84", Radius: f.radius, State: "Michigan", County: f.county})),
			op.Set("condition", val(record.Condition{Decay: &decay})), op.Set("cause", val(record.Cause{Cause: "vehicle", Basis: "position", Certainty: record.Likely})),
			op.Set("land", val(record.Land{Permission: "yes", Manager: "road_authority", Written: true})), op.Set("deed", val(f.deed)),
			op.Set("authority", val("state-2025")), op.Set("frozen", val(record.Freeze{At: onDay(f.day), Where: "garage freezer"})),
			op.Event("remarks", val(record.Remark{Text: "Right wing broken, otherwise clean."})),
			op.Add("animals", val(animal.String())), op.Event("verdicts", val(verdictFor(f.outcome, "state-2025"))),
			op.Event("done", val(record.DutyDone{Code: "TAG", At: onDay(f.day), Evidence: "tag " + makeTag(f.tag)})),
		}},
		op.Group{ID: animal, Kind: "animal", Acts: []op.Act{
			op.Add("tags", val(makeTag(f.tag))), op.Set("taxon", val(det)), op.Set("disposition", val(map[string]string{"taken": "private_freezer"}[f.deed])),
			op.Set("cause", val(record.Cause{Cause: "vehicle", Basis: "position"})),
		}})
	return report, animal
}

// fill puts a small autumn into the museum and returns the owl's records and
// an arrival with bags on the table.
func (m *museum) fill() (report, owl op.ID, arrival string) {
	ctx := context.Background()
	report, owl = m.find(seenFind{2, "p-cal", "2025-10-18", "Eastern Screech-Owl", "Megascops asio", "M-37, 1.2 km N of Sable Road, east shoulder", "Newaygo", "take", "taken", 43.4821, -85.9402, 14, 204})
	_, loon := m.find(seenFind{1, "p-ana", "2025-10-20", "Common Loon", "Gavia immer", "Beach, 300 m S of the north pier", "Mason", "ask", "taken", 43.9512, -86.4601, 38, 205})
	_, twin := m.find(seenFind{3, "p-quist", "2025-10-20", "Common Loon", "Gavia immer", "North pier, at the water line", "Mason", "take", "taken", 43.9509, -86.4604, 120, 206})
	m.find(seenFind{2, "p-cal", "2025-10-22", "Bald Eagle", "Haliaeetus leucocephalus", "US-31 at mile 148", "Oceana", "stop", "left", 43.6991, -86.3902, 25, 207})
	_, waxwing := m.find(seenFind{1, "p-ana", "2025-10-24", "Cedar Waxwing", "Bombycilla cedrorum", "County library, south windows", "Muskegon", "take", "taken", 43.2342, -86.2484, 9, 208})
	m.find(seenFind{1, "p-ana", "2025-11-02", "Hermit Thrush", "Catharus guttatus", "County library, south windows", "Muskegon", "take", "taken", 43.2342, -86.2484, 9, 209})
	m.save(4, "p-marchetti", sampleDay.Add(-48*time.Hour), op.Group{ID: owl, Kind: "animal", Acts: []op.Act{op.Set("cause", val(record.Cause{Cause: "window", Basis: "dissection", Certainty: record.Sure})), op.Add("hazards", val("avian_influenza"))}})
	hand := catalogue.Hand{Person: "p-stasik", AtMS: sampleDay.UnixMilli() - 3600000, Local: "2025-11-20T09:30", Zone: "-05:00"}
	hands := m.desk.Hands
	m.must(noID(hands.JoinByTag(ctx, hand, twin.String(), makeTag(205))))
	arrival, err := hands.BeginArrival(ctx, hand, catalogue.Opening{From: "Cal Whitlock"})
	m.must(err)
	m.must(hands.AddLines(ctx, hand, arrival, makeTag(204)+" Barn Owl\n"+makeTag(205)+" Common Loon\n"+makeTag(240)+" Herring Gull\na grebe, tag lost in the surf\n"))
	for _, n := range []uint{204, 208, 205, 205, 299} {
		m.must(noID(hands.AddBag(ctx, hand, arrival, catalogue.Typed{Tag: makeTag(n)})))
	}
	m.must(noID(hands.AddBag(ctx, hand, arrival, catalogue.Typed{Written: "small brown bird, label washed out", Untagged: true})))
	for _, a := range []op.ID{owl, waxwing} {
		m.must(noID(hands.Accept(ctx, hand, arrival, catalogue.Acceptance{Animal: a.String(), Tag: makeTag(204), Freezer: "F2, shelf 3"})))
	}
	m.must(hands.GivePreparation(ctx, hand, owl.String(), "TM 412"))
	m.must(hands.GivePreparation(ctx, hand, loon.String(), "TM 412"))
	m.must(noID(hands.AddPart(ctx, hand, waxwing.String(), catalogue.NewPart{Type: "skin", Barcode: "T-0091"})))
	m.must(noID(hands.AddPart(ctx, hand, owl.String(), catalogue.NewPart{Type: "spread_wing", Stored: "case 14, drawer 2"})))
	m.must(noID(hands.GiveCatalogue(ctx, hand, waxwing.String())))
	return report, owl, arrival
}

func noID(_ string, err error) error { return err }

// paper is an office with one permit and a made-up year, for pages alone.
type paper struct {
	row reports.PermitRow
	due []catalogue.Duty // beside the usual ones
}

func newPaper() *paper {
	a := permits.Authority{
		ID: "state-2025", Version: 2, Sample: true, Notice: "Invented for the demo.", Kind: "state_salvage", Issuer: "State wildlife office", Number: "SC-4471",
		Basis: "state wildlife law, scientific collection", Jurisdiction: "US-MI", Holder: "p-farrow", ValidFrom: permits.NewDate(2025, 1, 1), ValidTo: permits.NewDate(2025, 12, 31),
		Status: permits.Active, Area: []string{"US-MI"}, TaxaInclude: []string{"Aves"}, TaxaExclude: []string{"eagle"}, Activities: []string{"salvage", "possess"}, Forbids: []string{"sell"},
	}
	loon := catalogue.Row{ID: "AAAAAAAAAAAAAAAAAAAAAA", Tag: makeTag(310), Name: "Common Loon", Found: onDay("2025-10-29")}
	return &paper{row: reports.PermitRow{Authority: a, Name: "State salvage permit", Year: 2025, Balances: []reports.Balance{
		{Quota: "loon", Name: "Common Loon", Limit: 12, Used: 7, Lent: 3, Free: 2, Over: 1, OverWho: []catalogue.Row{loon}},
		{Quota: "swan", Name: "Trumpeter Swan", Limit: 3, Used: 2, Free: 1},
		{Quota: "any", Name: "Any other bird", Limit: 200, Used: 111, Lent: 20, Free: 69},
	}}}
}

func (p *paper) Permits(context.Context, permits.Date) ([]reports.PermitRow, error) {
	return []reports.PermitRow{p.row}, nil
}

func (p *paper) Permit(_ context.Context, id string, _ permits.Date) (reports.PermitSheet, error) {
	if id != p.row.ID {
		return reports.PermitSheet{}, fault.New(fault.Missing, "no permit of that name is known here")
	}
	old := p.row.Authority
	old.Version = 1
	return reports.PermitSheet{PermitRow: p.row, Years: []int{2025, 2024}, Persons: []reports.Listed{
		{Person: "p-ana", Role: "sub_permittee", From: permits.NewDate(2025, 1, 1), Now: true, Year: 41},
		{Person: "p-quist", Role: "sub_permittee", From: permits.NewDate(2025, 1, 1), To: permits.NewDate(2025, 9, 30), Year: 12},
	}, Versions: []reports.Version{{Authority: p.row.Authority, From: permits.NewDate(2025, 6, 1), Now: true}, {Authority: old, From: permits.NewDate(2025, 1, 1), Until: permits.NewDate(2025, 5, 31)}},
		Due: append([]catalogue.Duty{{Code: "DEPOSIT", Text: "Bring it to the institution", Due: "2025-11-23", Cites: "R-DEPOSIT", Animal: catalogue.Row{ID: "x", Tag: makeTag(209), Name: "Hermit Thrush"}},
			{Code: "ANNUAL_REPORT", Text: "File the yearly report of 2025, 118 animals so far", Due: "2026-01-31"},
			{Code: "NOTIFY_STATE", Text: "Notify the state office", Due: "2025-11-18", Animal: catalogue.Row{ID: "y", Tag: makeTag(210), Name: "Piping Plover"}}}, p.due...)}, nil
}

func (p *paper) Year(_ context.Context, id string, year int) (reports.Year, error) {
	if id != p.row.ID {
		return reports.Year{}, fault.New(fault.Missing, "no permit of that name is known here")
	}
	y := reports.Year{Authority: p.row.Authority, Name: p.row.Name, Year: year, Due: permits.NewDate(year+1, 1, 31), Sample: true, AsOf: reports.Stamp{LSN: 4127, AtMS: sampleDay.UnixMilli(), Head: "mE2rQ0o5Qy3nqjz0kK1oY0m7b1Q4sF2tTz5X9c8vW1U"}}
	if year != 2025 {
		y.Persons = []reports.Acted{{Person: "p-ana", Listed: true, Idle: []string{"2024-01"}}}
		return y, nil
	}
	y.Species = []reports.Species{
		{Name: "Common Loon", Taxon: "Gavia immer", Material: "carcass", Count: 8, States: []reports.State{{Name: "Michigan", Count: 8, Counties: []reports.County{{Name: "Mason", Count: 6, Months: []reports.Month{{Month: "2025-09", Count: 1}, {Month: "2025-10", Count: 5}}}, {Name: "Oceana", Count: 2, Months: []reports.Month{{Month: "2025-10", Count: 2}}}}}}},
		{Name: "Eastern Screech-Owl", Taxon: "Megascops asio", Material: "carcass", Count: 2, States: []reports.State{{Name: "Michigan", Count: 2, Counties: []reports.County{{Name: "Newaygo", Count: 2, Months: []reports.Month{{Month: "2025-10", Count: 2}}}}}}},
	}
	y.Total, y.All, y.Kept, y.Transferred, y.Destroyed, y.Pending, y.HeldBefore, y.HeldAfter = 10, 12, 9, 1, 0, 2, 31, 42
	entry := reports.Entry{Row: catalogue.Row{Tag: makeTag(310), Name: "Common Loon"}, Day: permits.NewDate(2025, 10, 29), Person: "p-ana", Why: "number 13 of 12"}
	y.Over, y.Bare = []reports.Entry{entry}, []reports.Entry{{Row: catalogue.Row{Tag: makeTag(311), Name: "Horned Grebe"}, Day: permits.NewDate(2025, 10, 11), Person: "p-quist", Why: "Lena Quist’s listing ended on 30 Sep 2025"}}
	y.Observed = []reports.Entry{{Row: catalogue.Row{Tag: "", Name: "Bald Eagle"}, Person: "p-cal", Why: "Eagles stay where they lie."}}
	y.Balances = p.row.Balances
	y.Persons = []reports.Acted{{Person: "p-ana", Count: 8, Listed: true, Idle: []string{"2025-01", "2025-02", "2025-12"}}, {Person: "p-quist", Count: 3, Unlisted: 1, Listed: true}, {Person: "p-cal", Listed: true, Idle: []string{"2025-01"}}}
	y.Checks = []reports.Check{{What: "Lines and ledger", Left: 10, Right: 10, LeftName: "lines", RightName: "ledger"}, {What: "Where they are", Left: 10, Right: 9, LeftName: "all", RightName: "kept, given, destroyed, pending"}}
	return y, nil
}

func (*paper) InstitutionYear(context.Context, int) (reports.InstitutionYear, error) {
	return reports.InstitutionYear{}, nil
}

// pile is a queue of one item for each code.
type pile struct {
	items   []intake.Item
	settled []string
}

func (p *pile) Review(_ context.Context, code string, limit int) ([]intake.Item, map[string]int, error) {
	counts := map[string]int{}
	var out []intake.Item
	for _, it := range p.items {
		counts[string(it.Code)]++
		if (code == "" || code == string(it.Code)) && len(out) < limit {
			out = append(out, it)
		}
	}
	return out, counts, nil
}

func (p *pile) Settle(_ context.Context, by catalogue.Hand, id, how, note string) error {
	p.settled = append(p.settled, by.Person+" "+id+" "+how+" "+note)
	return nil
}

func samplePile(report, owl op.ID) *pile {
	return &pile{items: []intake.Item{
		{ID: "41:over_quota", Code: "over_quota", Todo: "Ask for an amendment or disclose it, and note what was done.", Ways: []intake.Way{{How: intake.Seen, Label: "Looked at; note what was decided"}}, Why: "This is loon 13 under a number of 12; it was picked up while the phone was offline.", Kind: "report", Record: report.String(), Name: "Common Loon, " + makeTag(310), Who: "p-ana", AtMS: sampleDay.UnixMilli() - 86400000, Zone: "-04:00", LSN: 41},
		{ID: "44:differs", Code: "differs", Why: "Cause of death: the roadside says vehicle, the bench says window.", Kind: "animal", Record: owl.String(), Name: "Eastern Screech-Owl, " + makeTag(204), Who: "p-marchetti", AtMS: sampleDay.UnixMilli() - 7200000, Zone: "-05:00", LSN: 44},
		{ID: "45:pair_proposed", Code: "pair_proposed", Todo: "Compare the two finds and decide.", Ways: []intake.Way{{How: intake.Same, Label: "One animal: join them"}, {How: intake.Apart, Label: "Two animals: leave them apart"}}, Other: report.String(), Why: "Two loons 34 m apart, the same morning, by two people.", Kind: "animal", Record: owl.String(), Name: "Common Loon, " + makeTag(205), Who: "server", AtMS: sampleDay.UnixMilli(), Zone: "-05:00", LSN: 45},
		{ID: "46:moon", Code: "moon_phase", Why: "A code of a later release.", Who: "server", AtMS: sampleDay.UnixMilli(), LSN: 46},
	}}
}

// oneLine is one made-up county line.
type oneLine struct{}

func (oneLine) Near(lat, lon, half float64) []Outline {
	return []Outline{{Name: "Newaygo", Lines: [][][2]float64{{{-86.04, 43.29}, {-86.04, 43.47}, {-85.56, 43.47}, {-85.56, 43.81}}}}}
}
