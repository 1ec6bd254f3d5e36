package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wayfall/permits"
)

// told runs the program and returns what it printed.
func told(t *testing.T, args ...string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	err := run(t.Context(), args, &out)
	return out.String(), err
}

func TestEveryPlantedFaultIsALine(t *testing.T) {
	file := filepath.Join("..", "..", "permits", "rules", "testdata", "twenty.json")
	got, err := told(t, "rules", "check", file)
	if err == nil || err.Error() != "20 faults" {
		t.Errorf("got error %v, want 20 faults, which ends the program with 1", err)
	}
	lines := strings.Split(strings.TrimSpace(got), "\n")
	if len(lines) != 20 {
		t.Errorf("got %d lines, want 20:\n%s", len(lines), got)
	}
	for _, want := range []string{
		"twenty.json: E01-fact rules[1].when: there is no fact named \"colour\"",
		"twenty.json: law-loose laws[0].covers[0].rule: refers to rule NOWHERE, which is nowhere defined",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the lines lack %q", want)
		}
	}
}

func TestTheShippedPacksAndPapersAreChecked(t *testing.T) {
	papers := filepath.Join("..", "..", "fixtures", "packs", "authorities-demo.json")
	got, err := told(t, "rules", "check", papers)
	if err != nil || !strings.HasPrefix(got, "no fault in 13 packs and 1 lists of authorities") {
		t.Errorf("got %q, %v; want no fault", got, err)
	}
}

func TestAPaperWithAFaultIsALineToo(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mine.json")
	text := `[{"id":"A","kind":"state_salvage","basis":"b","jurisdiction":"US-MI","holder":"h","valid_from":"2026-01-02","valid_to":"2026-01-01",
	 "status":"active","area":["US-MI"],"taxa_include":["Avez"],"activities":["salvage"]}]`
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := told(t, "rules", "check", file)
	if err == nil || err.Error() != "2 faults" || !strings.Contains(got, "mine.json: A [0].valid_to: it ends before it begins") ||
		!strings.Contains(got, `[0].taxa_include[0]: "Avez" names no animal`) {
		t.Errorf("got %v:\n%s\nwant the two faults", err, got)
	}
}

func TestAnAllowedFindIsExplained(t *testing.T) {
	got, err := told(t, "rules", "explain", "--ordinary", "--taxon", "Eastern Screech-Owl", "--state", "Michigan", "--county", "Newaygo",
		"--person", "cal", "--date", "2025-06-12", "--cause", "vehicle", "--land", "road_authority")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"outcome  allow_with_obligations", "act      take", "rule     R-SALV-PERMIT", "50 CFR 21.95",
		"relies   us-mi-wildlife on SW-MI-SALV by R-MI-STATE", "2025-12-12", "suspected_crime yes: hold_call_first by R-CRIME",
		"permit_copy_on_hand no: hold_call_first by R-SHOW", "not legal advice", "samples"} {
		if !strings.Contains(got, want) {
			t.Errorf("the answer lacks %q:\n%s", want, got)
		}
	}
	for l := permits.Safety; l <= permits.Advice; l++ {
		if !strings.Contains(got, "\n  "+l.String()+" ") {
			t.Errorf("the answer lacks the layer %s", l)
		}
	}
}

func TestWhatIsNotSaidIsNamed(t *testing.T) {
	got, err := told(t, "rules", "explain", "--taxon", "Turdus migratorius", "--state", "US-MI", "--date", "2025-06-12")
	if err != nil || !strings.Contains(got, "outcome  review") || !strings.Contains(got, "suspected_crime is not known; R-CRIME asks for it") {
		t.Errorf("got %v:\n%s\nwant a person to decide, and suspected_crime named", err, got)
	}
	if _, err := told(t, "rules", "explain", "--date", "2025-02-30"); err == nil {
		t.Error("30 February: got no error")
	}
	if got, err := told(t, "rules", "explain", "--ordinary", "--taxon", "Common Loon", "--state", "MI", "--person", "cal",
		"--date", "2025-06-12", "--used", "12"); err != nil || !strings.Contains(got, "rule     R-QUOTA") {
		t.Errorf("the thirteenth loon: got %v:\n%s", err, got)
	}
}

func TestFactsAreReadFromTheStandardInput(t *testing.T) {
	defer func() { stdin = os.Stdin }()
	stdin = strings.NewReader(`{"taxon":"Bald Eagle","identified":true,"jurisdictions":["US-MI"],"person":"cal","possessed":"2025-06-12"}`)
	got, err := told(t, "rules", "explain", "--ordinary", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var v permits.Verdict
	if err := json.Unmarshal([]byte(got), &v); err != nil || v.Outcome != permits.HoldCallFirst || v.Deciding.Rule != "R-EAGLE" {
		t.Errorf("got %s by %s, %v; want the eagle left and called in", v.Outcome, v.Deciding.Rule, err)
	}
	stdin = strings.NewReader(`{"taxom":"Bald Eagle"}`)
	if _, err := told(t, "rules", "explain"); err == nil || !strings.Contains(err.Error(), "taxom") {
		t.Errorf("got %v, want the unknown member named", err)
	}
}
