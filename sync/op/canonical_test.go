package op

import (
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// canonicalTests are published checks of RFC 8785. "test data" is the set the
// RFC itself points at (cyberphone/json-canonicalization, testdata); rows from
// memory say so.
var canonicalTests = []struct{ name, source, in, want string }{
	{"arrays keep their order, members do not", "test data, arrays",
		`[56,{"d":true,"10":null,"1":[]}]`, `[56,{"1":[],"10":null,"d":true}]`},
	{"names sort at every depth", "test data, structures; the input's spelling is ours, the output is the published one",
		`{"1":{"f":{"f":"hi","F":5},"\n":56},"10":{},"":"empty","a":{},"111":[{"e":"yes","E":"no"}],"A":{}}`,
		`{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}`},
	{"numbers and strings take their shortest form", "test data, values",
		`{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}`,
		`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
	{"Unicode is not normalised", "test data, unicode",
		`{"Unnormalized Unicode":"A\u030a"}`, "{\"Unnormalized Unicode\":\"A\u030a\"}"},
	{"names sort by UTF-16 code units", "RFC 8785 section 3.2.3, from memory; the order of the last two is in the test data, weird",
		`{"\u20ac":1,"\r":2,"\ufb33":3,"1":4,"\ud83d\ude00":5,"\u0080":6,"\u00f6":7}`,
		"{\"\\r\":2,\"1\":4,\"\u0080\":6,\"\u00f6\":7,\"\u20ac\":1,\"\U0001F600\":5,\"\ufb33\":3}"},
}

func TestPublishedCanonicalForms(t *testing.T) {
	for _, c := range canonicalTests {
		if c.source == "" {
			t.Fatalf("%s: no source", c.name)
		}
		got, err := Canonical([]byte(c.in))
		if err != nil || string(got) != c.want {
			t.Errorf("%s:\n got %s (%v)\nwant %s", c.name, got, err, c.want)
		}
		if err := Check(c.want); err != nil {
			t.Errorf("%s: the published form is refused: %v", c.name, err)
		}
		if c.in != c.want && Check(c.in) == nil {
			t.Errorf("%s: the other spelling passes as canonical", c.name)
		}
	}
}

// numberTests are the doubles of RFC 8785 appendix B, bits and text, from memory.
var numberTests = []struct {
	bits uint64
	want string
}{
	{0x0000000000000000, "0"},
	{0x8000000000000000, "0"},
	{0x0000000000000001, "5e-324"},
	{0x8000000000000001, "-5e-324"},
	{0x7fefffffffffffff, "1.7976931348623157e+308"},
	{0xffefffffffffffff, "-1.7976931348623157e+308"},
	{0x4340000000000000, "9007199254740992"},
	{0xc340000000000000, "-9007199254740992"},
	{0x4430000000000000, "295147905179352830000"},
	{0x44b52d02c7e14af5, "9.999999999999997e+22"},
	{0x44b52d02c7e14af6, "1e+23"},
	{0x44b52d02c7e14af7, "1.0000000000000001e+23"},
	{0x444b1ae4d6e2ef4e, "999999999999999700000"},
	{0x444b1ae4d6e2ef4f, "999999999999999900000"},
	{0x444b1ae4d6e2ef50, "1e+21"},
	{0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
	{0x3eb0c6f7a0b5ed8d, "0.000001"},
	{0x41b3de4355555553, "333333333.3333332"},
	{0x41b3de4355555554, "333333333.33333325"},
	{0x41b3de4355555555, "333333333.3333333"},
	{0x41b3de4355555556, "333333333.3333334"},
	{0x41b3de4355555557, "333333333.33333343"},
	{0xbecbf647612f3696, "-0.0000033333333333333333"},
	{0x43143ff3c1cb0959, "1424953923781206.2"},
}

func TestNumbersOfRFC8785AppendixB(t *testing.T) {
	for _, c := range numberTests {
		if got := string(appendNumber(nil, math.Float64frombits(c.bits))); got != c.want {
			t.Errorf("%016x: got %s, want %s", c.bits, got, c.want)
		}
		if err := Check(c.want); err != nil {
			t.Errorf("%s is refused: %v", c.want, err)
		}
	}
}

func TestCanonicalRefuses(t *testing.T) {
	deep := func(n int) string { return strings.Repeat("[", n) + strings.Repeat("]", n) }
	for _, c := range []struct {
		name, in string
		want     error
	}{
		{"a name that stands twice", `{"a":1,"a":1}`, ErrMalformed},
		{"a name that stands twice in two spellings", `{"a":1,"b":2,"\u0061":1}`, ErrMalformed},
		{"a number beyond a double", `1e400`, ErrMalformed},
		{"a number beyond a double, below", `-1e400`, ErrMalformed},
		{"NaN", `NaN`, ErrMalformed},
		{"a leading zero", `01`, ErrMalformed},
		{"a plus sign", `+1`, ErrMalformed},
		{"a bare point", `1.`, ErrMalformed},
		{"half a surrogate pair", `"\ud83d"`, ErrMalformed},
		{"the halves the wrong way round", `"\ude00\ud83d"`, ErrMalformed},
		{"bytes that are not UTF-8", "\"\xff\"", ErrMalformed},
		{"a raw control character", "\"\x01\"", ErrMalformed},
		{"an unknown escape", `"\x41"`, ErrMalformed},
		{"a string without end", `"abc`, ErrMalformed},
		{"two values", `1 2`, ErrMalformed},
		{"nothing", ``, ErrMalformed},
		{"a comma too many", `[1,]`, ErrMalformed},
		{"a level too deep", deep(MaxDepth + 1), ErrTooLarge},
		{"a very deep array", deep(100_000), ErrTooLarge},
		{"a text too long", `"` + strings.Repeat("x", MaxText+1) + `"`, ErrTooLarge},
		{"a text too long, with an escape", `"\n` + strings.Repeat("x", MaxText) + `"`, ErrTooLarge},
	} {
		if got, err := Canonical([]byte(c.in)); !errors.Is(err, c.want) {
			t.Errorf("%s: got %.40q (%v), want %v", c.name, got, err, c.want)
		}
		if Check(c.in) == nil {
			t.Errorf("%s: passes as canonical", c.name)
		}
	}
	if err := Check(deep(MaxDepth)); err != nil {
		t.Errorf("%d levels: got %v, want none", MaxDepth, err)
	}
}

func TestCheckNamesWhatIsNotCanonical(t *testing.T) {
	for _, in := range []string{` 1`, `1 `, `[1, 2]`, `{"b":1,"a":2}`, `"\u0041"`, `"\/"`, `1.0`, `-0`, `1e2`, `1E30`, `"\u001F"`, "\"\\u00e9\""} {
		if err := Check(in); !errors.Is(err, ErrNotCanonical) {
			t.Errorf("Check(%s): got %v, want %v", in, err, ErrNotCanonical)
		}
	}
}

// values draws JSON values as encoding/json represents them.
func values() *rapid.Generator[any] {
	scalar := rapid.OneOf(
		rapid.Just[any](nil),
		rapid.Map(rapid.Bool(), func(b bool) any { return b }),
		rapid.Map(rapid.Float64(), func(f float64) any {
			if math.IsNaN(f) || math.IsInf(f, 0) {
				return 0.0
			}
			return f
		}),
		rapid.Map(rapid.String(), func(s string) any { return s }),
	)
	level := scalar
	for range 3 {
		inner := level
		level = rapid.OneOf(scalar,
			rapid.Map(rapid.SliceOfN(inner, 0, 4), func(s []any) any { return s }),
			rapid.Map(rapid.MapOfN(rapid.String(), inner, 0, 4), func(m map[string]any) any { return m }))
	}
	return level
}

func TestCanonicalKeepsTheMeaningAndSettles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plain, err := json.MarshalIndent(values().Draw(t, "value"), "", " ")
		if err != nil {
			t.Fatal(err)
		}
		once, err := Canonical(plain)
		if err != nil {
			t.Fatalf("%s: %v", plain, err)
		}
		if err := Check(string(once)); err != nil {
			t.Fatalf("canonical form %s is not canonical: %v", once, err)
		}
		var a, b any
		if json.Unmarshal(plain, &a) != nil || json.Unmarshal(once, &b) != nil || !reflect.DeepEqual(a, b) {
			t.Fatalf("the meaning changed:\n got %s\nwant %s", once, plain)
		}
	})
}

func FuzzCanonical(f *testing.F) {
	for _, c := range canonicalTests {
		f.Add([]byte(c.in))
		f.Add([]byte(c.want))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		once, err := Canonical(in)
		if err != nil {
			return
		}
		if !json.Valid(in) {
			t.Fatalf("%q is no JSON but was read as %s", in, once)
		}
		if err := Check(string(once)); err != nil {
			t.Fatalf("Canonical(%q) gave %s, which is not: %v", in, once, err)
		}
		if Check(string(in)) == nil && string(in) != string(once) {
			t.Fatalf("two canonical spellings of one value: %s and %s", in, once)
		}
	})
}
