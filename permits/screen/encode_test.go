package screen_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"testing"
	"wayfall/permits/screen"
)

func TestTheDigestIsThatOfTheFactsAsJSON(t *testing.T) {
	odd := filled()
	odd.Site, odd.Taxon = "Lake \"Été\" <north> & \\ \n\x01", "\xff"
	facts := []screen.Facts{{}, filled(), odd}
	f := loadVectors(t)
	for i := range f.Cases {
		facts = append(facts, f.facts(t, &f.Cases[i])...)
	}
	for i := range facts {
		text, err := json.Marshal(&facts[i])
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(text)
		if got, want := screen.Digest(&facts[i]), hex.EncodeToString(sum[:]); got != want {
			t.Errorf("facts %d: got digest %s, want %s of %s", i, got, want, text)
		}
	}
}
