package server_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/png"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"wayfall/server/api"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// problemOf reads a refusal and checks that it is one after RFC 9457.
func problemOf(t *testing.T, name string, r reply, status int) api.Problem {
	t.Helper()
	if r.StatusCode != status {
		t.Errorf("%s: got %d %s, want %d", name, r.StatusCode, r.body, status)
	}
	if got := r.Header.Get("Content-Type"); got != "application/problem+json" {
		t.Errorf("%s: got content type %q, want a problem", name, got)
	}
	var p api.Problem
	if err := json.Unmarshal(r.body, &p); err != nil {
		t.Errorf("%s: %v in %s", name, err, r.body)
	}
	if p.Status != r.StatusCode || p.Title == "" || p.Detail == "" {
		t.Errorf("%s: got %s, want a status of %d, a title and a sentence", name, r.body, status)
	}
	return p
}

func pointers(p api.Problem) string {
	var all []string
	for _, e := range p.Errors {
		all = append(all, e.Pointer)
	}
	return strings.Join(all, " ")
}

// badReports are facts that cannot be: refused with a pointer when a program
// posts them, kept with a doubt when a device pushes them.
var badReports = []struct {
	name    string
	change  map[string]any
	pointer string // in the problem
	says    string
	code    string // of the receipt when pushed
}{
	{"latitude 91", map[string]any{"place": record.Georeference{Known: true, Lat: 91, Lon: -185.9}}, "/place/lat", "beyond a pole", "place_doubt"},
	{"latitude and longitude swapped", map[string]any{"place": record.Georeference{Known: true, Lat: -95.9, Lon: 43.46}}, "/place/lat", "may be swapped", "place_doubt"},
	{"a date in the future", map[string]any{"found": record.When{Earliest: "2025-10-05T10:00", Latest: "2025-10-05T10:00", Precision: record.ToMinute, Zone: "-04:00"}}, "/found/earliest", "future", "date_doubt"},
	{"31 February", map[string]any{"found": record.When{Earliest: "2025-02-31T10:00", Latest: "2025-02-31T10:00", Precision: record.ToMinute, Zone: "-05:00"}}, "/found/earliest", "no such day", "date_doubt"},
	{"an unknown permit", map[string]any{"authority": "NOBODY-KNOWS-IT"}, "/authority", "NOBODY-KNOWS-IT", "unknown_authority"},
	{"a photo that is no picture by its own word", map[string]any{"photos": []record.Photo{{SHA256: strings.Repeat("a", 64), Size: 9, Type: "text/plain"}}}, "/photos/type", "JPEG", "photo_bad"},
}

func TestAReportThatCannotBeIsRefusedWithAPointerAndKeptNowhere(t *testing.T) {
	m := open(t, nil)
	cal := m.as("cal")
	for _, c := range badReports {
		body := find(c.change)
		p := problemOf(t, c.name, cal.report("bad "+c.name, body), http.StatusUnprocessableEntity)
		if !strings.Contains(pointers(p), c.pointer) || !strings.Contains(string(jsonText(t, p)), c.says) {
			t.Errorf("%s: got pointers %q and %q, want %s and %q", c.name, pointers(p), p.Detail, c.pointer, c.says)
		}
		if c.code != "unknown_authority" {
			problemOf(t, c.name+", asked for a verdict", cal.post("/v1/verdicts", body), http.StatusUnprocessableEntity)
		}
	}
	if all := cal.pull(); len(all) != 0 {
		t.Errorf("the log holds %d operations, want none", len(all))
	}
}

func jsonText(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestTheSameFactsPushedAreKeptAndWaitForALook(t *testing.T) {
	m := open(t, nil)
	cal, gwen := m.phone("cal", 1), m.as("gwen")
	for i, c := range badReports {
		fields := find(c.change)
		photos, _ := fields["photos"].([]record.Photo)
		delete(fields, "photos")
		id := op.ID{byte(i), 7}
		g := groups(t, id, fields, op.ID{byte(i), 8})
		for _, p := range photos {
			g[0].Acts = append(g[0].Acts, op.Add("photos", val(t, p)))
		}
		wire := cal.save(g...)
		got := cal.push(wire)[0]
		if got.Effect != oplog.Review || got.Code != c.code || !strings.Contains(got.Why, c.says) {
			t.Errorf("%s: got %v %s: %s, want review %s with %q", c.name, got.Effect, got.Code, got.Why, c.code, c.says)
		}
		if r := gwen.get("/v1/reports/" + id.String()); r.StatusCode != http.StatusOK {
			t.Errorf("%s: the report reads as %d %s, want it kept", c.name, r.StatusCode, r.body)
		}
		if !logHolds(gwen, wire) {
			t.Errorf("%s: the log does not hold the operation as it was sent", c.name)
		}
		if r := gwen.get("/v1/review?code=" + c.code); !strings.Contains(string(r.body), id.String()) {
			t.Errorf("%s: not on the list of what needs a look: %s", c.name, r.body)
		}
	}
}

func logHolds(c *caller, wire []byte) bool {
	for _, e := range c.pull() {
		if bytes.Equal(e.Wire, wire) {
			return true
		}
	}
	return false
}

func TestAnUnknownFieldIsRefusedInAPostAndKeptInAPush(t *testing.T) {
	m := open(t, nil)
	p := problemOf(t, "posted", m.as("cal").report("k", find(map[string]any{"moon_phase": "full"})), http.StatusUnprocessableEntity)
	if pointers(p) != "/moon_phase" {
		t.Errorf("posted: got pointers %q, want /moon_phase", pointers(p))
	}
	p = problemOf(t, "deeper", m.as("cal").report("k", find(map[string]any{"land": map[string]any{"permission": "yes", "mood": "good"}})), http.StatusUnprocessableEntity)
	if pointers(p) != "/land/mood" {
		t.Errorf("deeper: got pointers %q, want /land/mood", pointers(p))
	}
	cal := m.phone("cal", 1)
	g := groups(t, op.ID{1}, find(nil), op.ID{2})
	g[0].Acts = append(g[0].Acts, op.Set("moon_phase", op.Text("full")))
	wire := cal.save(g...)
	got := cal.push(wire)[0]
	if got.Effect != oplog.Review || got.Code != "unknown_field" || !logHolds(cal.caller, wire) {
		t.Errorf("pushed: got %v %s, want review unknown_field and the same bytes in the log", got.Effect, got.Code)
	}
}

func TestBodiesThatAreTooLargeOrCutShort(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	big := `{"locality":"` + strings.Repeat("x", 20<<20) + `"}`
	problemOf(t, "20 MB as a report", cal.report("k", big), http.StatusRequestEntityTooLarge)
	problemOf(t, "20 MB as a push", cal.pushBody([]byte(big), false), http.StatusRequestEntityTooLarge)
	p := problemOf(t, "20 MB of zeros as a few KB of gzip", cal.pushBody(zipped(bytes.Repeat([]byte{'0'}, 20<<20)), true), http.StatusRequestEntityTooLarge)
	if p.Code != "too_large" {
		t.Errorf("a decompression bomb: got %q, want too_large", p.Code)
	}
	whole := cal.batch(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...), cal.save(op.Group{ID: op.ID{1}, Kind: "report", Acts: []op.Act{op.Event("remarks", val(t, record.Remark{Text: "again"}))}}))
	packed := zipped(whole)
	for _, cut := range []int{len(packed) / 2, len(packed) - 4, len(packed) - 9, 12} {
		p := problemOf(t, "a gzip cut short", cal.pushBody(packed[:cut], true), http.StatusBadRequest)
		if p.Code != "cut_short" || !strings.Contains(p.Detail, "0 operations of this request were kept") {
			t.Errorf("gzip cut at %d of %d: got %s: %s, want it to say that 0 operations were kept", cut, len(packed), p.Code, p.Detail)
		}
	}
	broken := bytes.Clone(packed)
	broken[len(broken)/2] ^= 0x40
	if r := cal.pushBody(broken, true); r.StatusCode < 400 {
		t.Errorf("a gzip with a flipped bit: got %d %s, want a problem", r.StatusCode, r.body)
	}
	problemOf(t, "a plain body cut short", cal.pushBody(whole[:len(whole)-20], false), http.StatusBadRequest)
	problemOf(t, "another compression", cal.ask("POST", "/v1/sync/push", bytes.NewReader(whole), map[string]string{"Content-Type": "application/x-ndjson", "Content-Encoding": "br"}), http.StatusUnsupportedMediaType)
	problemOf(t, "another form", cal.ask("POST", "/v1/sync/push", bytes.NewReader(whole), map[string]string{"Content-Type": "text/plain"}), http.StatusUnsupportedMediaType)
	if all := cal.pull(); len(all) != 0 {
		t.Fatalf("the log holds %d operations after all that, want none", len(all))
	}
	if r := cal.pushBody(packed, true); r.StatusCode != http.StatusOK {
		t.Errorf("the whole body afterwards: %d %s, want it taken", r.StatusCode, r.body)
	}
	if n := len(cal.pull()); n < 2 {
		t.Errorf("the log holds %d operations, want the two that were pushed", n)
	}
}

func TestPushesThatDoNotFitTheChain(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	one := cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...)
	body := cal.batch(one)
	changed := bytes.Replace(body, []byte("milepost 9"), []byte("milepost 8"), 1)
	if p := problemOf(t, "changed on the way", cal.pushBody(changed, false), http.StatusUnprocessableEntity); p.Code != "changed_on_the_way" {
		t.Errorf("changed on the way: got %q", p.Code)
	}
	later := *cal
	two := later.save(op.Group{ID: op.ID{1}, Kind: "report", Acts: []op.Act{op.Event("remarks", val(t, record.Remark{Text: "x"}))}})
	if p := problemOf(t, "a hole", later.pushBody(later.batch(two), false), http.StatusConflict); p.Code != "gap" || p.Expected != 1 {
		t.Errorf("a hole: got %q and %d, want gap and to push from 1", p.Code, p.Expected)
	}
	first := cal.pushBody(body, false)
	again := cal.pushBody(body, false)
	if first.StatusCode != 200 || !bytes.Equal(first.body, again.body) {
		t.Errorf("the same push again: got %s, want the receipt it had: %s", again.body, first.body)
	}
	ana := m.phone("ana", 9)
	problemOf(t, "somebody else's device", ana.pushBody(body, false), http.StatusForbidden)
	if problemOf(t, "no push at all", cal.pushBody([]byte("{}\n"), false), http.StatusBadRequest).Code != "not_a_push" {
		t.Error("no push at all: want not_a_push")
	}
}

func TestTokensThatProveNothing(t *testing.T) {
	m := open(t, nil)
	good := m.as("gwen")
	if r := good.get("/v1/arrivals"); r.StatusCode != http.StatusOK {
		t.Fatalf("the good token: %d; the rows below would prove nothing", r.StatusCode)
	}
	parts := strings.Split(good.access, ".")
	claims, err := base64.RawURLEncoding.DecodeString(parts[1])
	if err != nil {
		t.Fatal(err)
	}
	none := base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"none","typ":"JWT"}`)) + "." + parts[1] + "."
	forged, err := jwt.NewWithClaims(jwt.SigningMethodHS256, jwt.MapClaims{"sub": "gwen", "iss": "wayfall:sablewater", "aud": "wayfall:sablewater",
		"exp": opening.Add(time.Minute).Unix(), "roles": []string{"registrar"}}).SignedString([]byte("a key that somebody guessed........"))
	if err != nil {
		t.Fatal(err)
	}
	officer := strings.Replace(string(claims), "registrar", "permit_officer", 1)
	for _, c := range []struct{ name, token string }{
		{"forged", forged}, {"algorithm none", none},
		{"with other roles in it", parts[0] + "." + base64.RawURLEncoding.EncodeToString([]byte(officer)) + "." + parts[2]},
		{"cut short", good.access[:len(good.access)-3]}, {"empty", ""},
	} {
		who := &caller{m: m, access: c.token}
		r := who.get("/v1/arrivals")
		problemOf(t, c.name, r, http.StatusUnauthorized)
		if !strings.HasPrefix(r.Header.Get("WWW-Authenticate"), "Bearer") {
			t.Errorf("%s: no WWW-Authenticate", c.name)
		}
	}
	m.now.Add((16 * time.Minute).Milliseconds())
	if p := problemOf(t, "run out", good.get("/v1/arrivals"), http.StatusUnauthorized); !strings.Contains(p.Detail, "run out") {
		t.Errorf("run out: got %q, want it to say so", p.Detail)
	}
}

func TestWrongRolesAreTold(t *testing.T) {
	m := open(t, nil)
	for _, c := range []struct{ who, method, path, body string }{
		{"cal", "GET", "/v1/arrivals", ""},
		{"cal", "GET", "/v1/review", ""},
		{"cal", "PUT", "/v1/permits/X", "{}"},
		{"gwen", "PUT", "/v1/permits/X", "{}"},
		{"desmond", "POST", "/v1/arrivals", "{}"},
		{"rita", "POST", "/v1/reports", "{}"},
		{"rita", "POST", "/v1/review/x/settle", "{}"},
		{"teo", "POST", "/v1/animals/" + op.ID{1}.String() + "/catalogue", "{}"},
	} {
		p := problemOf(t, c.who+" "+c.path, m.as(c.who).send(c.method, c.path, c.body, nil), http.StatusForbidden)
		if !strings.Contains(p.Detail, "role") {
			t.Errorf("%s %s: got %q, want the role that it takes", c.who, c.path, p.Detail)
		}
	}
}

func TestPhotosThatAreNone(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	var good bytes.Buffer
	if err := png.Encode(&good, image.NewGray(image.Rect(0, 0, 4, 4))); err != nil {
		t.Fatal(err)
	}
	text := []byte("this is no picture")
	if p := problemOf(t, "text", cal.ask("PUT", "/v1/photos/"+sha(text), bytes.NewReader(text), map[string]string{"Content-Type": "image/png"}), http.StatusUnprocessableEntity); p.Code != "photo_not_a_picture" {
		t.Errorf("text: got %q, want photo_not_a_picture", p.Code)
	}
	if p := problemOf(t, "another digest", cal.ask("PUT", "/v1/photos/"+sha(text), bytes.NewReader(good.Bytes()), map[string]string{"Content-Type": "image/png"}), http.StatusUnprocessableEntity); p.Code != "digest" {
		t.Errorf("another digest: got %q, want digest", p.Code)
	}
	problemOf(t, "another Content-Digest", cal.ask("PUT", "/v1/photos/"+sha(good.Bytes()), bytes.NewReader(good.Bytes()),
		map[string]string{"Content-Type": "image/png", "Content-Digest": "sha-256=:" + base64.StdEncoding.EncodeToString(make([]byte, 32)) + ":"}), http.StatusBadRequest)
	problemOf(t, "not handed in yet", cal.get("/v1/photos/"+sha(good.Bytes())), http.StatusNotFound)
	for range 2 {
		if r := cal.ask("PUT", "/v1/photos/"+sha(good.Bytes()), bytes.NewReader(good.Bytes()), map[string]string{"Content-Type": "image/png"}); r.StatusCode != http.StatusNoContent {
			t.Errorf("a picture: %d %s, want 204", r.StatusCode, r.body)
		}
	}
	if r := cal.get("/v1/photos/" + sha(good.Bytes())); !bytes.Equal(r.body, good.Bytes()) || r.Header.Get("Content-Type") != "image/png" {
		t.Errorf("the picture came back as %s, %d bytes, want the %d that were sent", r.Header.Get("Content-Type"), len(r.body), good.Len())
	}
}

func TestTheSignInIsSlowedDown(t *testing.T) {
	m := open(t, func(c *serverConfig) { c.Tries = 3 })
	for n := range 3 {
		problemOf(t, "a wrong code", m.nobody().post("/v1/sign-in", map[string]any{"code": "WRONG"}), http.StatusUnauthorized)
		_ = n
	}
	r := m.nobody().post("/v1/sign-in", map[string]any{"code": "WRONG"})
	problemOf(t, "one try too many", r, http.StatusTooManyRequests)
	if r.Header.Get("Retry-After") == "" {
		t.Error("one try too many: no Retry-After")
	}
	m.now.Add(10_000)
	if r := m.nobody().post("/v1/sign-in", map[string]any{"code": "demo cal"}); r.StatusCode != http.StatusOK {
		t.Errorf("after ten seconds: %d, want to be let in", r.StatusCode)
	}
}

func TestOtherProblems(t *testing.T) {
	m := open(t, nil)
	cal := m.as("cal")
	problemOf(t, "no such address", cal.get("/v1/nothing"), http.StatusNotFound)
	r := cal.send("DELETE", "/v1/reports", "", nil)
	problemOf(t, "no such method", r, http.StatusMethodNotAllowed)
	if !strings.Contains(r.Header.Get("Allow"), "POST") {
		t.Errorf("no such method: Allow is %q, want the methods there are", r.Header.Get("Allow"))
	}
	problemOf(t, "no such report", cal.get("/v1/reports/"+op.ID{9}.String()), http.StatusNotFound)
	problemOf(t, "no such permit", cal.get("/v1/permits/NONE"), http.StatusNotFound)
	problemOf(t, "not JSON", cal.report("k", "{"), http.StatusBadRequest)
	problemOf(t, "JSON and more", cal.report("k", "{} {}"), http.StatusBadRequest)
	problemOf(t, "a member twice", cal.report("k", `{"band":"a","band":"b"}`), http.StatusUnprocessableEntity)
	problemOf(t, "nested a thousand deep", cal.report("k", `{"taxon":`+strings.Repeat("[", 1000)+strings.Repeat("]", 1000)+`}`), http.StatusBadRequest)
	problemOf(t, "no key", cal.post("/v1/reports", find(nil)), http.StatusBadRequest)
	problemOf(t, "a limit in words", cal.get("/v1/reports?limit=many"), http.StatusBadRequest)
	problemOf(t, "a made-up cursor", cal.get("/v1/sync/pull?cursor=abc"), http.StatusBadRequest)
	problemOf(t, "not in UTF-8", cal.report("k", "{\"band\":\"\xff\"}"), http.StatusBadRequest)
	p := problemOf(t, "several things at once", cal.report("k", map[string]any{"count": "three", "locality": 5, "sky": "blue"}), http.StatusUnprocessableEntity)
	if got := len(p.Errors); got != 3 {
		t.Errorf("several things at once: got %d places (%s), want 3", got, pointers(p))
	}
}

func TestTheSameKeyKeepsOneReport(t *testing.T) {
	m := open(t, nil)
	cal := m.as("cal")
	first := cal.report("one", find(nil))
	again := cal.report("one", find(nil))
	if first.StatusCode != http.StatusCreated || again.StatusCode != http.StatusCreated || !bytes.Equal(first.body, again.body) {
		t.Errorf("got %d and %d with %s, want 201 twice with the same answer", first.StatusCode, again.StatusCode, again.body)
	}
	if p := problemOf(t, "another report under the key", cal.report("one", find(map[string]any{"count": 2})), http.StatusConflict); p.Code != "key_used" {
		t.Errorf("got %q, want key_used", p.Code)
	}
	r := m.as("gwen").get("/v1/reports")
	if got := r.member(t, "all"); got != "1" {
		t.Errorf("there are %s reports, want 1", got)
	}
}
