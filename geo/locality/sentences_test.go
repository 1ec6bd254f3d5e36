package locality_test

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"
	"unicode"

	"wayfall/fixtures/localities"
	"wayfall/geo/locality"
)

func said(r locality.Reading) (clauses []string) {
	for _, c := range r.Clauses {
		clauses = append(clauses, c.String())
	}
	slices.Sort(clauses)
	return clauses
}

// TestFiveHundredSentencesAreReadAsACarefulReaderDoes: every clause that is
// expected, no other, and what must be refused is refused with a reason.
func TestFiveHundredSentencesAreReadAsACarefulReaderDoes(t *testing.T) {
	n, refused := 0, 0
	for s := range localities.All() {
		n++
		r := locality.Parse(s.Text)
		want := slices.Sorted(slices.Values(s.Clauses))
		got := said(r)
		if !slices.Equal(got, want) {
			t.Errorf("%q: got %q (left %v), want %q", s.Text, got, r.Left, want)
		}
		if len(s.Refused) > 0 {
			refused++
		}
		if (len(r.Left) > 0) != (len(s.Refused) > 0) {
			t.Errorf("%q: got %v refused, want %q", s.Text, r.Left, s.Refused)
		}
	}
	if n != 500 {
		t.Errorf("got %d sentences, want 500", n)
	}
	t.Logf("SHOW localities: %d sentences, %d with a part that must be refused", n, refused)
}

// slips are what careless typing does to a sentence and what leaves the
// meaning as it was.
var slips = []struct {
	name string
	do   func(*rand.Rand, string) string
}{
	{"two letters swapped", func(r *rand.Rand, s string) string {
		return inWord(r, s, func(w []rune, i int) []rune { w[i], w[i+1] = w[i+1], w[i]; return w })
	}},
	{"a letter missing", func(r *rand.Rand, s string) string {
		return inWord(r, s, func(w []rune, i int) []rune { return append(w[:i], w[i+1:]...) })
	}},
	{"a letter twice", func(r *rand.Rand, s string) string {
		return inWord(r, s, func(w []rune, i int) []rune {
			return append(w[:i+1], w[i:]...)
		})
	}},
	{"a wrong letter", func(r *rand.Rand, s string) string {
		return inWord(r, s, func(w []rune, i int) []rune { w[i] = rune('a' + r.Intn(26)); return w })
	}},
	{"odd spaces", func(r *rand.Rand, s string) string {
		return strings.NewReplacer(" ", [...]string{"  ", "\t", " ", "\u00a0"}[r.Intn(4)], ", ", [...]string{" , ", ",", ",  "}[r.Intn(3)]).Replace(s)
	}},
	{"a dot at the end", func(_ *rand.Rand, s string) string { return s + "." }},
	{"dots left out", func(_ *rand.Rand, s string) string {
		return strings.NewReplacer("mi.", "mi", "km.", "km", "Co.", "Co", "ca.", "ca").Replace(s)
	}},
	{"all in capitals", func(_ *rand.Rand, s string) string { return strings.ToUpper(s) }},
	{"another word for the unit", func(r *rand.Rand, s string) string {
		return strings.NewReplacer(" mi ", [...]string{" miles ", " Mi. ", "mi "}[r.Intn(3)], " km ", [...]string{" KM ", " kilometres ", "km "}[r.Intn(3)], " miles ", " mi ", " kilometers ", " km ").Replace(s)
	}},
	{"semicolons", func(_ *rand.Rand, s string) string { return strings.ReplaceAll(s, ", ", "; ") }},
}

// inWord changes one word of at least four letters, never its first letter:
// slips there are made as well, but a reader cannot tell them from a name.
func inWord(r *rand.Rand, s string, change func([]rune, int) []rune) string {
	words := strings.Split(s, " ")
	var long []int
	for i, w := range words {
		if len(w) >= 4 && strings.IndexFunc(w, func(c rune) bool { return !unicode.IsLetter(c) }) < 0 {
			long = append(long, i)
		}
	}
	if len(long) == 0 {
		return s
	}
	at := long[r.Intn(len(long))]
	w := []rune(words[at])
	words[at] = string(change(w, r.Intn(len(w)-1)))
	return strings.Join(words, " ")
}

type tally struct{ understood, refused, wrong int }

// judge: understood when every expected clause is there, with names up to the
// slip; wrong when a clause is there that nobody meant; refused otherwise.
func judge(text string, s localities.Sentence) (string, []string) {
	r := locality.Parse(text)
	left := slices.Clone(s.Clauses)
	for _, c := range r.Clauses {
		i := slices.IndexFunc(left, func(want string) bool { return alike(c.String(), want) })
		if i < 0 && c.Form == locality.FeatureOnly && len(r.Left) > 0 {
			continue // the rest of its clause was refused
		}
		if i < 0 {
			return "wrong", said(r)
		}
		left = slices.Delete(left, i, i+1)
	}
	if len(left) > 0 || len(r.Left) > 0 {
		return "refused", said(r)
	}
	return "understood", said(r)
}

// alike compares numbers and relations exactly and names up to two slips. A
// region whose last word has a slip in it is a feature of that name: the same
// ground, if a list of names knows it at all.
func alike(got, want string) bool {
	a, b := strings.Split(got, " | "), strings.Split(strings.Replace(want, "region |", "feature |", 1), " | ")
	a[0] = strings.Replace(a[0], "region", "feature", 1)
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if strings.ContainsAny(b[i], "±°") || i == 0 || strings.HasPrefix(b[i], "side ") || strings.HasPrefix(b[i], "by ") {
			if a[i] != b[i] {
				return false
			}
			continue
		}
		if distance(fold(a[i]), fold(b[i])) > 2 {
			return false
		}
	}
	return true
}

func fold(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		last := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := last
			if a[i-1] != b[j-1] {
				cost++
			}
			last, row[j] = row[j], min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// TestSlipsAreRefusedRatherThanMisread: the sentences that are understood
// whole, each with every slip several times over. What comes out wrong must be
// close to nothing.
func TestSlipsAreRefusedRatherThanMisread(t *testing.T) {
	chance := rand.New(rand.NewSource(5))
	all, shown := tally{}, 0
	byName := map[string]*tally{}
	for s := range localities.All() {
		if len(s.Refused) > 0 {
			continue
		}
		for _, slip := range slips {
			for range 2 {
				text := slip.do(chance, s.Text)
				if text == s.Text {
					continue
				}
				verdict, got := judge(text, s)
				one := byName[slip.name]
				if one == nil {
					one = &tally{}
					byName[slip.name] = one
				}
				one.count(verdict)
				all.count(verdict)
				if verdict == "wrong" && shown < 25 {
					shown++
					t.Logf("misread: %q (%s): got %q, want %q", text, slip.name, got, s.Clauses)
				}
			}
		}
	}
	for _, slip := range slips {
		t.Logf("SHOW localities with %s: %v", slip.name, byName[slip.name])
	}
	t.Logf("SHOW localities with slips: %v", &all)
	if n := all.sum(); n < 5000 || all.wrong*200 > n || all.understood*2 < n {
		t.Errorf("got %v, want at least 5000 sentences, at most 0.5 %% wrong and half understood", &all)
	}
}

func (t *tally) count(verdict string) {
	switch verdict {
	case "understood":
		t.understood++
	case "refused":
		t.refused++
	default:
		t.wrong++
	}
}

func (t *tally) sum() int { return t.understood + t.refused + t.wrong }

func (t *tally) String() string {
	n := float64(max(1, t.sum()))
	return fmt.Sprintf("%d sentences: understood %.1f %%, refused %.1f %%, wrong %.2f %%", t.sum(), 100*float64(t.understood)/n, 100*float64(t.refused)/n, 100*float64(t.wrong)/n)
}
