package rules

import (
	"encoding/json"
	"testing"
	"wayfall/permits"
)

func parse(t *testing.T, text string) Condition {
	t.Helper()
	return parseCondition(json.RawMessage(text), "$", func(path, what string) { t.Fatalf("%s: %s", path, what) })
}

func TestConditionsAreThreeValued(t *testing.T) {
	var in Inputs
	in[SuspectedCrime], in[Research] = Bool(true), Bool(false)
	in[Count], in[EventCount] = Number(5), Between(3, 8)
	in[Cause] = Word("oil")
	in[Groups] = Set([]string{"raptor"}, []string{"raptor", "eagle"})
	in[PossessedOn] = Between(int64(permits.NewDate(2025, 9, 29)), int64(permits.NewDate(2025, 10, 2)))
	yes, no, open := `{"fact":"suspected_crime","is":true}`, `{"fact":"research_purpose","is":true}`, `{"fact":"sale","is":true}`
	tests := []struct {
		text string
		want Truth
	}{
		{yes, True}, {no, False}, {open, CannotTell},
		{`{"all":[` + yes + `,` + open + `]}`, CannotTell}, {`{"all":[` + no + `,` + open + `]}`, False}, {`{"all":[` + open + `,` + no + `]}`, False},
		{`{"any":[` + yes + `,` + open + `]}`, True}, {`{"any":[` + open + `,` + yes + `]}`, True}, {`{"any":[` + no + `,` + open + `]}`, CannotTell},
		{`{"not":` + open + `}`, CannotTell}, {`{"not":` + no + `}`, True}, {`{"not":` + yes + `}`, False},
		{`{"fact":"count","at_least":5}`, True}, {`{"fact":"count","at_least":6}`, False}, {`{"fact":"count","at_most":4}`, False}, {`{"fact":"count","is":5}`, True},
		{`{"fact":"event_carcass_count","at_least":3}`, True}, {`{"fact":"event_carcass_count","at_least":5}`, CannotTell},
		{`{"fact":"event_carcass_count","at_least":9}`, False}, {`{"fact":"event_carcass_count","is":5}`, CannotTell}, {`{"fact":"event_carcass_count","is":9}`, False},
		{`{"fact":"cause","is":"oil"}`, True}, {`{"fact":"cause","in":["shot","oil"]}`, True}, {`{"fact":"cause","in":["shot"]}`, False}, {`{"fact":"band","is":"none"}`, CannotTell},
		{`{"fact":"groups","has":"raptor"}`, True}, {`{"fact":"groups","has":"eagle"}`, CannotTell}, {`{"fact":"groups","has":"owl"}`, False},
		{`{"fact":"groups","in":["owl","raptor"]}`, True}, {`{"fact":"groups","in":["owl","eagle"]}`, CannotTell},
		{`{"fact":"possessed_on","before":"2025-10-01"}`, CannotTell}, {`{"fact":"possessed_on","before":"2025-10-03"}`, True}, {`{"fact":"possessed_on","from":"2025-10-03"}`, False},
		{`{"fact":"sale","known":false}`, True}, {`{"fact":"cause","known":false}`, False}, {`{"fact":"cause","known":true}`, True},
	}
	for _, c := range tests {
		cond := parse(t, c.text)
		if got := cond.Eval(&in); got != c.want {
			t.Errorf("%s: got %d, want %d (0 cannot tell, 1 false, 2 true)", c.text, got, c.want)
		}
	}
}

func TestWhatIsMissingIsNamed(t *testing.T) {
	var in Inputs
	in[Research] = Bool(true)
	cond := parse(t, `{"all":[{"fact":"research_purpose","is":true},{"any":[{"fact":"sale","is":true},{"fact":"band","is":"none"}]}]}`)
	got := cond.missing(&in, nil)
	if len(got) != 2 || got[0] != "sale" || got[1] != "band" {
		t.Errorf("got %v, want sale and band", got)
	}
}

func TestEveryFactHasANameOfItsOwn(t *testing.T) {
	seen := map[string]bool{}
	for f := Fact(0); f < factCount; f++ {
		if f.String() == "" || seen[f.String()] {
			t.Errorf("fact %d is named %q", f, f)
		}
		seen[f.String()] = true
	}
}

func TestASentenceIsFilledIn(t *testing.T) {
	tmpl := parseTemplate("{person} took {count} on {date}")
	got := tmpl.fill(func(name string) string { return "<" + name + ">" })
	if want := "<person> took <count> on <date>"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
