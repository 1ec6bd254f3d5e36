package intake

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"

	"wayfall/permits"
	"wayfall/sync/op"
)

// TestAVerdictIsWrittenInCanonicalForm fills verdicts with everything a
// verdict may hold, members of later releases included, and holds the quick
// way of writing them to the slow one.
func TestAVerdictIsWrittenInCanonicalForm(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for i := range 3000 {
		var v permits.Verdict
		if i > 0 {
			fill(reflect.ValueOf(&v).Elem(), rng)
		}
		want, err := op.ValueOf(v)
		if err != nil {
			t.Fatal(err)
		}
		if got := written(&v); got != want {
			t.Fatalf("verdict %d:\n got %s\nwant %s", i, got, want)
		}
	}
}

var fillings = []string{"", "", "Great Blue Heron", "50 CFR 21.16", "“Été” <&> \u2028", "a \"b\" \\ \n\x01", "bad \xff byte", "€𝄞"}

// fill sets every exported member by chance, to its zero value at times.
func fill(v reflect.Value, rng *rand.Rand) {
	if m, ok := v.Addr().Interface().(*permits.Moment); ok {
		if rng.IntN(2) == 0 {
			*m = permits.NewDate(2025, 1+rng.IntN(12), 1+rng.IntN(28)).At(rng.IntN(24), rng.IntN(60))
		}
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(fillings[rng.IntN(len(fillings))])
	case reflect.Bool:
		v.SetBool(rng.IntN(2) == 0)
	case reflect.Int:
		v.SetInt(int64(rng.IntN(3)))
	case reflect.Uint8:
		v.SetUint(uint64(rng.IntN(8)))
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), rng)
		}
	case reflect.Slice:
		if n := rng.IntN(4); n > 0 { // else it stays nil
			v.Set(reflect.MakeSlice(v.Type(), n-1, n-1))
		}
		for i := range v.Len() {
			fill(v.Index(i), rng)
		}
	default:
		panic(fmt.Sprint("a verdict has come to hold a ", v.Kind()))
	}
}
