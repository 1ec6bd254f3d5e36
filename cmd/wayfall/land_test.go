package main

import (
	"bytes"
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
)

// deadOnTheFlats is a duck in the middle of an invented refuge, as a report
// says it.
const deadOnTheFlats = `{"found":{"earliest":"2025-06-12T09:00","latest":"2025-06-12T09:00","precision":"minute","zone":"-04:00"},
 "place":{"known":true,"lat":43.705,"lon":-86.31,"radius_m":20,"datum":"WGS84","source":"device"},
 "taxon":{"written":"Mallard","name":"Anas platyrhynchos","certainty":"sure"},"count":1,"material":"carcass","circumstance":"open",
 "cause":{"cause":"vehicle"},"band":"none","land":{"permission":"yes","manager":"private","written":true},
 "signs":{"crime":"no","caused":"no","planned":"no","research":"no","keep":"no","permit_copy":"yes","danger":"no","in_hand":"no","others":"no"}}`

func TestServeAsksTheUnitsOfGroundInTheFileItIsGiven(t *testing.T) {
	file := filepath.Join(t.TempDir(), "units.json")
	if err := os.WriteFile(file, packs.DemoLand(), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		args    []string
		env     string
		unit    bool // the refuge is known
		contact string
	}{
		{"without a file", nil, "", false, ""},
		{"with the flag", []string{"--land", file}, "", true, "the refuge's manager (invented)"},
		{"with the variable", nil, "WAYFALL_LAND=" + file, true, "the refuge's manager (invented)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder, addr := t.TempDir(), freeAddr(t)
			code := invited(t, folder)
			s := serveWith(t, c.env, append([]string{"serve", "--folder", folder, "--listen", addr}, c.args...)...)
			defer s.kill()
			_, client := hands(t, s.base, code)
			var v permits.Verdict
			if err := client.Do(context.Background(), http.MethodPost, "/v1/verdicts", rawJSON(deadOnTheFlats), &v); err != nil {
				t.Fatal(err)
			}
			drawn, contact := false, ""
			for _, p := range v.Packs {
				drawn = drawn || p.ID == "land"
			}
			for _, f := range v.Findings {
				if f.Rule == "R-LAND-UNIT" {
					contact = f.Contact
				}
			}
			if drawn != c.unit || contact != c.contact {
				t.Errorf("got the units asked %v and %q to call (%s by %s), want %v and %q", drawn, contact, v.Outcome, v.Deciding.Rule, c.unit, c.contact)
			}
			if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
				t.Fatal(err)
			}
		})
	}
}

func TestServeRefusesUnitsOfGroundThatCannotBe(t *testing.T) {
	folder := t.TempDir()
	broken := filepath.Join(folder, "broken.json")
	if err := os.WriteFile(broken, bytes.Replace(packs.DemoLand(), []byte(`"default": "deny"`), []byte(`"default": "perhaps"`), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, file, says string }{
		{"a file that is not there", filepath.Join(folder, "nowhere.json"), "nowhere.json"},
		{"a unit that says neither yes nor no", broken, "perhaps"},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, err := program("serve", "--folder", t.TempDir(), "--listen", "127.0.0.1:0", "--land", c.file).CombinedOutput()
			if err == nil || !strings.Contains(string(out), c.says) {
				t.Errorf("got %v and %q, want it refused with a sentence about %s", err, out, c.says)
			}
		})
	}
}

// rawJSON is text that is sent as it is.
type rawJSON string

// MarshalJSON returns the text.
func (r rawJSON) MarshalJSON() ([]byte, error) { return []byte(r), nil }
