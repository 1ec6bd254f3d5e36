package screen_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

type vectorFile struct {
	Schema   string          `json:"schema"`
	Ordinary json.RawMessage `json:"ordinary"`
	Cases    []vector        `json:"cases"`
}

type vector struct {
	ID      string            `json:"id"`
	Name    string            `json:"name"`
	Source  string            `json:"source"`
	Facts   []json.RawMessage `json:"facts"`
	Tallies quota.Fixed       `json:"tallies"`
	Want    struct {
		Outcome     permits.Outcome `json:"outcome"`
		Rule        permits.RuleID  `json:"deciding_rule"`
		Obligations []wantDuty      `json:"obligations"`
	} `json:"want"`
}

type wantDuty struct {
	Code string         `json:"code"`
	Due  permits.Moment `json:"due"`
	Word string         `json:"word"`
}

func loadVectors(t testing.TB) vectorFile {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash("../../fixtures/vectors/permits.json"))
	if err != nil {
		t.Fatal(err)
	}
	var f vectorFile
	if err := json.Unmarshal(data, &f); err != nil {
		t.Fatal(err)
	}
	if len(f.Cases) < 20 {
		t.Fatalf("got %d cases, want at least the twenty scenarios", len(f.Cases))
	}
	return f
}

func (f *vectorFile) facts(t testing.TB, v *vector) []screen.Facts {
	t.Helper()
	out := make([]screen.Facts, len(v.Facts))
	for i, text := range v.Facts {
		for _, layer := range []json.RawMessage{f.Ordinary, text} {
			if err := json.Unmarshal(layer, &out[i]); err != nil {
				t.Fatalf("%s: %v", v.ID, err)
			}
		}
	}
	return out
}

func loadBook(t testing.TB) *rules.Book {
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

func loadWorld(t testing.TB, authorities []byte) *screen.World {
	t.Helper()
	book := loadBook(t)
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	var given []permits.Authority
	if err := json.Unmarshal(authorities, &given); err != nil {
		t.Fatal(err)
	}
	return &screen.World{Book: book, Register: rules.NewRegister(book, given), Checklist: list}
}

// gravest returns the verdict that a visit as a whole stands for.
func gravest(all []permits.Verdict) permits.Verdict {
	order := []permits.Outcome{permits.BreachToResolve, permits.HoldCallFirst, permits.RefusePickup,
		permits.RefuseTransfer, permits.ReviewByPerson, permits.ObligationDue, permits.AllowWithObligations}
	for _, o := range order {
		for _, v := range all {
			if v.Outcome == o {
				return v
			}
		}
	}
	return permits.Verdict{}
}

func TestScenarios(t *testing.T) {
	f := loadVectors(t)
	w := loadWorld(t, packs.Authorities())
	for i := range f.Cases {
		v := &f.Cases[i]
		t.Run(v.ID+" "+v.Name, func(t *testing.T) {
			if v.Source == "" {
				t.Error("the vector names no source")
			}
			w.Tally = v.Tallies
			verdicts := screen.Visit(f.facts(t, v), w)
			compare(t, v, verdicts)
		})
	}
}

func compare(t *testing.T, v *vector, verdicts []permits.Verdict) {
	t.Helper()
	worst := gravest(verdicts)
	if worst.Outcome != v.Want.Outcome || worst.Deciding.Rule != v.Want.Rule {
		t.Errorf("got %s by %s (%s), want %s by %s\nfindings: %s", worst.Outcome, worst.Deciding.Rule,
			worst.Deciding.Because, v.Want.Outcome, v.Want.Rule, show(worst.Findings))
	}
	var got, want []string
	for _, one := range verdicts {
		if one.Outcome != worst.Outcome {
			continue
		}
		for _, o := range one.Obligations {
			got = append(got, o.Code+" "+o.Due.At.String()+" "+o.Due.Word)
		}
	}
	for _, o := range v.Want.Obligations {
		want = append(want, o.Code+" "+o.Due.String()+" "+o.Word)
	}
	slices.Sort(got)
	got = slices.Compact(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("duties:\n got %q\nwant %q", got, want)
	}
	for _, one := range verdicts {
		for _, finding := range one.Findings {
			if finding.Cites == "" || finding.Because == "" || finding.SourceStatus == "" {
				t.Errorf("finding %s cites %q, says %q, source %q; want all three", finding.Rule, finding.Cites,
					finding.Because, finding.SourceStatus)
			}
		}
		if len(one.Cautions) == 0 || !one.Sample || one.Notice == "" {
			t.Errorf("the verdict carries %d cautions, sample %v, notice %q", len(one.Cautions), one.Sample, one.Notice)
		}
	}
}

func show(findings []permits.Finding) string {
	text, err := json.MarshalIndent(findings, "", " ")
	if err != nil {
		return err.Error()
	}
	return string(text)
}
