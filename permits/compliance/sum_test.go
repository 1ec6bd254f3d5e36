package compliance_test

import (
	"slices"
	"testing"
	"wayfall/permits"
	"wayfall/permits/compliance"
	"wayfall/permits/quota"

	"pgregory.net/rapid"
)

// slipped turns lines of different animals, in any order, into slips.
func slipped(lines []compliance.Line) (*quota.Slips, []compliance.Effect) {
	all := &quota.Slips{Words: []string{""}, Before: func(a, b uint32) bool { return lines[a].Animal < lines[b].Animal }}
	word := func(s string) quota.Word {
		at := slices.Index(all.Words, s)
		if at < 0 {
			at = len(all.Words)
			all.Words = append(all.Words, s)
		}
		return quota.Word(at)
	}
	var effects []compliance.Effect
	for i, l := range lines {
		e := l.Effect
		if e == "" {
			e = compliance.NotCovered
		}
		if l.Authority != "P1" {
			e = ""
		}
		effects = append(effects, e)
		all.All = append(all.All, quota.Slip{Animal: uint32(i), Found: permits.Moment{Date: l.On}, Day: l.On, Taxon: word(l.Taxon), Name: word(l.English),
			Material: word(l.Material), State: word(l.State), County: word(l.County), Person: word(l.Person), Fate: l.Fate.Small(), Marks: quota.Taken})
	}
	return all, effects
}

// TestSumIsBuild holds the sums that are counted against the plain form.
func TestSumIsBuild(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfNDistinct(rapid.Map(line(), func(l compliance.Line) compliance.Line { return l }), 0, 9,
			func(l compliance.Line) string { return l.Animal }).Draw(t, "lines")
		more := rapid.SliceOfN(line(), 0, 60).Draw(t, "more")
		for i := range more {
			more[i].Animal = "b" + string(rune('A'+i*7%60)) + more[i].Animal
		}
		lines = append(lines, more...)
		for i := range lines {
			lines[i].Count, lines[i].English, lines[i].Identify = 0, "English of "+lines[i].Taxon, lines[i].Taxon == ""
		}
		all, effects := slipped(lines)
		q := year(permit())
		q.HeldBefore = 3
		sums := compliance.Sum(compliance.Summed{Request: q, Slips: all, Effect: func(s *quota.Slip) compliance.Effect { return effects[s.Animal] },
			Common: func(s *quota.Slip) string { return all.Words[s.Name] }})
		want := compliance.Build(q, lines)
		got := sums.Report
		table := sums.Table
		for i := range got.Species {
			for j := range got.Species[i].States {
				for k := range got.Species[i].States[j].Counties {
					months := got.Species[i].States[j].Counties[k].Months
					for m := range months {
						for range months[m].Count {
							months[m].Animals = append(months[m].Animals, lines[table[0]].Animal)
							table = table[1:]
						}
					}
				}
			}
		}
		for _, part := range []struct {
			animals []uint32
			into    *[]compliance.Line
		}{{sums.Over, &got.OverQuota}, {sums.Bare, &got.NotCovered}, {sums.Seen, &got.Observed}, {sums.NoDay, &got.Undated}} {
			for _, a := range part.animals {
				*part.into = append(*part.into, lines[a])
			}
		}
		if text(got) != text(want) {
			t.Fatalf("counted\n%s\nplain\n%s", text(got), text(want))
		}
	})
}
