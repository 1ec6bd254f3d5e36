package screen_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/vectors"
)

type vectorFile struct{ vectors.File }

func loadVectors(t testing.TB) vectorFile {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash("../../fixtures/vectors/permits.json"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := vectors.Read(data)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Cases) < 40 {
		t.Fatalf("got %d cases, want the forty scenarios", len(f.Cases))
	}
	return vectorFile{f}
}

func (f *vectorFile) facts(t testing.TB, v *vectors.Case) []screen.Facts {
	t.Helper()
	out, err := f.Visit(v)
	if err != nil {
		t.Fatal(err)
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

func compare(t *testing.T, v *vectors.Case, verdicts []permits.Verdict) {
	t.Helper()
	for _, d := range v.Differences(verdicts) {
		t.Error(d)
	}
	if len(v.Want.Layers) == 0 {
		t.Error("the vector names no layer")
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

// TestTheComparisonSeesADifference spoils each thing that is wanted.
func TestTheComparisonSeesADifference(t *testing.T) {
	f := loadVectors(t)
	w := loadWorld(t, packs.Authorities())
	for i := range f.Cases {
		w.Tally = f.Cases[i].Tallies
		verdicts := screen.Visit(f.facts(t, &f.Cases[i]), w)
		for name, spoil := range map[string]func(*vectors.Want){
			"outcome": func(w *vectors.Want) { w.Outcome, w.Items = "unknown", nil },
			"rule":    func(w *vectors.Want) { w.Rule = "R-NOBODY" },
			"duty":    func(w *vectors.Want) { w.Obligations = w.Obligations[1:] },
			"due":     func(w *vectors.Want) { w.Obligations[0].Due = permits.NewDate(2001, 1, 1).At(0, 0) },
			"to":      func(w *vectors.Want) { w.Obligations[0].To += "x" },
			"note":    func(w *vectors.Want) { w.Obligations[0].Note += "x" },
			"layer":   func(w *vectors.Want) { w.Layers = map[string][]string{"x": {"R-NOBODY allow"}} },
		} {
			c := f.Cases[i]
			c.Want.Obligations = slices.Clone(c.Want.Obligations)
			spoil(&c.Want)
			if len(c.Differences(verdicts)) == 0 {
				t.Errorf("%s with another %s: got no difference", c.ID, name)
			}
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
