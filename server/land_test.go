package server_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/server"
	"wayfall/sync/record"
)

func drawn(cfg *server.Config) {
	cfg.Land = &server.File{Name: "land-demo.json", Data: packs.DemoLand()}
}

// The refuge's southern line runs along latitude 43.69.
func TestARefugeSpeaksForItsGround(t *testing.T) {
	m := open(t, drawn)
	papers(t, m)
	ask := func(lat, radius float64) permits.Verdict {
		t.Helper()
		var v permits.Verdict
		expect(t, "ask", m.as("cal").post("/v1/verdicts", find(map[string]any{"fix": nil, "locality": nil,
			"place": record.Georeference{Known: true, Lat: lat, Lon: -86.31, Radius: radius, Datum: "WGS84", Source: "device"}})), http.StatusOK).into(t, &v)
		if !slices.ContainsFunc(v.Packs, func(p permits.PackRef) bool { return p.ID == "land" && len(p.Digest) == 64 }) {
			t.Errorf("got a verdict by %v, want the drawn units named with their digest", v.Packs)
		}
		return v
	}
	cited := func(v permits.Verdict) (because string) {
		for _, f := range v.Findings {
			if f.Rule == "R-LAND-UNIT" {
				because += f.Because + "\n"
			}
		}
		return because
	}
	inside := ask(43.695, 12)
	if inside.Outcome.Permits() || !strings.Contains(cited(inside), "Sablewater Flats wildlife refuge") {
		t.Errorf("inside the refuge: got %v, %q, want no permission and the refuge named", inside.Outcome, cited(inside))
	}
	const metre = 1 / 111_000.0
	if touching := ask(43.69-metre, 12); touching.Outcome.Permits() || cited(touching) == "" {
		t.Errorf("touching the refuge: got %v, want no permission by R-LAND-UNIT", touching.Outcome)
	}
	if outside := ask(43.69-metre, 0.5); cited(outside) != "" {
		t.Errorf("a metre outside, to half a metre: got %v, %q, want no word of the refuge", outside.Outcome, cited(outside))
	}
	t.Logf("SHOW inside the refuge: %v, by %s: %s", inside.Outcome, inside.Deciding.Rule, cited(inside))
}

func TestAFieldKitCarriesTheUnits(t *testing.T) {
	with, without := open(t, drawn).as("cal").get("/v1/field-kit"), open(t, nil).as("cal").get("/v1/field-kit")
	var a, b struct{ Land json.RawMessage }
	with.into(t, &a)
	without.into(t, &b)
	var want bytes.Buffer
	if err := json.Compact(&want, packs.DemoLand()); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Land, want.Bytes()) || b.Land != nil {
		t.Errorf("got %d bytes of units with a file and %d without, want %d and 0", len(a.Land), len(b.Land), want.Len())
	}
}

func TestABadDrawingIsRefusedAtTheStart(t *testing.T) {
	cfg := settings(t, &atomic.Int64{}, &bytes.Buffer{})
	cfg.Land = &server.File{Name: "ours.json", Data: bytes.Replace(packs.DemoLand(), []byte("[-86.33, 43.69]]"), []byte("[-86.33, 43.68]]"), 1)}
	_, err := server.New(cfg)
	if err == nil || !strings.Contains(err.Error(), "ours.json") || !strings.Contains(err.Error(), "is not closed") {
		t.Errorf("got %v, want a refusal that names the file and says that the ring is not closed", err)
	}
}
