package catalogue

import (
	"context"
	"slices"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

const statePaper = `{"id":"MI-1","name":"State salvage permit","kind":"state_salvage","basis":"b","jurisdiction":"US-MI","holder":"museum","status":"active","area":["US-MI"],"taxa_include":["Aves"],"activities":["salvage"]}`

func mayTake(duties ...string) permits.Verdict {
	v := permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take, Relies: []permits.Reliance{{Law: "state", Authority: "MI-1"}},
		Findings: []permits.Finding{{Rule: "R-1", Layer: permits.AuthorityLayer, Effect: permits.Allows, Authority: "MI-1", Because: "The state salvage permit covers this bird."}}}
	for _, d := range duties {
		v.Obligations = append(v.Obligations, permits.Obligation{Code: d, Rule: "R-1", Due: permits.Due{At: permits.Moment{Date: permits.NewDate(2025, 10, 10)}}})
	}
	v.Deciding = v.Findings[0]
	return v
}

// paper enters a state salvage permit.
func (b *bench) paper() {
	b.phone(8, on(b.id(), record.Authority).set("document", rawJSON(statePaper)))
}

type rawJSON string

func (r rawJSON) MarshalJSON() ([]byte, error) { return []byte(r), nil }

func duty(t *testing.T, all []Duty, code string) Duty {
	t.Helper()
	at := slices.IndexFunc(all, func(d Duty) bool { return d.Code == code })
	if at < 0 {
		t.Fatalf("there is no duty %s among %v", code, all)
	}
	if slices.ContainsFunc(all[at+1:], func(d Duty) bool { return d.Code == code }) {
		t.Errorf("the duty %s stands twice", code)
	}
	return all[at]
}

func moments(sheet AnimalSheet, head string) []Moment {
	var out []Moment
	for _, m := range sheet.Life {
		if strings.HasPrefix(m.Head, head) {
			out = append(out, m)
		}
	}
	return out
}

func TestAnArrivalHasItsOwnDay(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	report, loon := b.find(1, "2025-10-04", makeTag(t, 1))
	b.phone(1, on(report, record.Report).event("verdicts", mayTake("DEPOSIT")))
	came := record.When{Earliest: "2025-10-07T14:30", Latest: "2025-10-07T14:30", Precision: record.ToMinute, Zone: "-04:00"}
	id, err := b.clerk.BeginArrival(ctx, registrar, Opening{From: "Ana", At: came})
	b.must(err)
	_, err = b.clerk.AddBag(ctx, registrar, id, Typed{Tag: makeTag(t, 1)})
	b.must(err)
	no, err := b.clerk.Accept(ctx, registrar, id, Acceptance{Animal: loon.String(), Tag: makeTag(t, 1)})
	b.must(err)
	sheet := b.animal(loon)
	handed := moments(sheet, "handed to")
	if len(handed) != 1 || handed[0].When != "2025-10-07T14:30" || !strings.Contains(handed[0].Text, no) {
		t.Errorf("got %+v, want one hand-over of 7 October 2025 with the intake number %s", handed, no)
	}
	if d := duty(t, sheet.Duties, "DEPOSIT"); !d.Done || d.DoneAt != "2025-10-07T14:30" {
		t.Errorf("got %+v, want the deposit done on the day of the arrival", d)
	}
	for name, at := range map[string]record.When{
		"a day that lies ahead":            day("2025-10-19"),
		"no day":                           {Earliest: "yesterday", Latest: "yesterday"},
		"an end before the beginning":      {Earliest: "2025-10-07T14:30", Latest: "2025-10-06T14:30"},
		"a day without a time as RFC 3339": {Earliest: "2025-10-07", Latest: "2025-10-07"},
	} {
		if _, err := b.clerk.BeginArrival(ctx, registrar, Opening{From: "Ana", At: at}); err == nil {
			t.Errorf("%s was taken as the day of an arrival", name)
		}
	}
	if _, err := b.clerk.BeginArrival(ctx, registrar, Opening{From: "Ana", At: day("2025-10-18")}); err != nil {
		t.Errorf("today, without an hour: %v", err)
	}
}

func TestPartsMadeOnOneDayAreOneLine(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, loon := b.find(1, "2025-10-04", makeTag(t, 1))
	b.must(b.clerk.GivePreparation(ctx, registrar, loon.String(), "TM 7"))
	for _, kind := range []string{"skin", "tissue", "tissue"} {
		_, err := b.clerk.AddPart(ctx, registrar, loon.String(), NewPart{Type: kind, Made: day("2025-10-09")})
		b.must(err)
	}
	sheet := b.animal(loon)
	got := moments(sheet, "prepar")
	if len(got) != 1 || got[0].When != "2025-10-09" || got[0].Text != "study skin, 2 × tissue, preparation number TM 7" {
		t.Errorf("got %+v, want one line of 9 October", got)
	}
	if len(sheet.Parts) != 3 || sheet.Parts[0].Made.Earliest != "2025-10-09T00:00" {
		t.Errorf("got %d parts, the first made %q; want 3 of 9 October", len(sheet.Parts), sheet.Parts[0].Made.Earliest)
	}
}

func TestAnAnswerThatSaysTheSameAgainIsOneLine(t *testing.T) {
	b := newBench(t)
	b.paper()
	report, loon := b.find(1, "2025-10-04", makeTag(t, 1))
	full := mayTake()
	full.Outcome, full.Relies = permits.BreachToResolve, nil
	full.Findings = []permits.Finding{{Rule: "R-2", Effect: permits.Breaches, Layer: permits.QuotaLayer, Because: "The number is used up."}}
	full.Deciding = full.Findings[0]
	for _, v := range []permits.Verdict{mayTake(), mayTake(), full, full, mayTake()} {
		b.phone(1, on(report, record.Report).event("verdicts", v))
	}
	got := moments(b.animal(loon), "the rules")
	want := []string{"the rules: may be taken|under the state salvage permit", "the rules: taken without cover.|The number is used up", "the rules: may be taken|under the state salvage permit"}
	if len(got) != len(want) {
		t.Fatalf("got %d answers, want %d: %+v", len(got), len(want), got)
	}
	for i, m := range got {
		if said := m.Head + "|" + m.Text; said != want[i] {
			t.Errorf("answer %d: got %q, want %q", i, said, want[i])
		}
	}
}

func TestDutiesThatNothingAsksForAnyLongerAreNotLate(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	b.paper()
	codes := []string{"TAG", "DEPOSIT", "NOTIFY_STATE", "ANNUAL_REPORT_LINE", "IDENTIFY_BEFORE_REPORT"}
	left, seen := b.find(1, "2025-10-04", "")
	b.phone(1, on(left, record.Report).set("deed", "left", b.dots(left, "deed")...).event("verdicts", mayTake(codes...)))
	for _, code := range codes {
		d := duty(t, b.animal(seen).Duties, code)
		if void := code != "NOTIFY_STATE"; d.Done || (d.Void != "") != void {
			t.Errorf("left in place, %s: got done %t, void %q; want only the notice to be asked for", code, d.Done, d.Void)
		}
	}
	taken, loon := b.find(2, "2025-10-04", makeTag(t, 2))
	b.phone(2, on(taken, record.Report).event("verdicts", mayTake(codes...)), on(loon, record.Animal).set("taxon", record.Determination{Name: "Gavia immer", Certainty: record.Sure}, b.dots(loon, "taxon")...))
	b.must(b.clerk.Join(ctx, registrar, loon.String(), seen.String()))
	sheet := b.animal(seen)
	for code, want := range map[string]bool{"TAG": true, "DEPOSIT": false, "NOTIFY_STATE": false, "ANNUAL_REPORT_LINE": true, "IDENTIFY_BEFORE_REPORT": true} {
		if d := duty(t, sheet.Duties, code); d.Done != want || d.Void != "" {
			t.Errorf("joined with who took it, %s: got done %t, void %q; want done %t", code, d.Done, d.Void, want)
		}
	}
	all, err := b.book.Duties(ctx)
	b.must(err)
	if len(all) != len(codes) {
		t.Errorf("got %d duties of one animal from two reports, want each of %d once", len(all), len(codes))
	}
}

func TestWhatSettledAnItemIsToldByItsDecision(t *testing.T) {
	head, text := remarkText(record.Remark{Text: "Looked at: two finds lie near. Decided: One animal: join them. both compared", Settles: "x", How: "same"})
	if head != "decided" || text != "one animal: join them. both compared" {
		t.Errorf("got %q, %q", head, text)
	}
	if head, text = remarkText(record.Remark{Text: "He said: Decided: no."}); head != "remark" || text != "He said: Decided: no." {
		t.Errorf("a remark of somebody's own: got %q, %q", head, text)
	}
}

func TestTheAuthorityReliedOnIsCalledByItsName(t *testing.T) {
	b := newBench(t)
	b.paper()
	report, _ := b.find(1, "2025-10-04", makeTag(t, 1))
	b.phone(1, on(report, record.Report).set("authority", "MI-1"))
	sheet, err := b.book.Find(context.Background(), report.String())
	b.must(err)
	for _, f := range sheet.Facts {
		if f.Field.Name == "authority" && f.Said[0].Text != "State salvage permit" {
			t.Errorf("got %q", f.Said[0].Text)
		}
	}
}

// dots are the values of a field that a phone has seen.
func (b *bench) dots(id op.ID, field string) []op.Dot {
	s, err := b.log.State(context.Background(), id)
	b.must(err)
	return saw(s, field)
}
