package server_test

import (
	"bytes"
	"compress/gzip"
	"context"
	crand "crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/server"
	"wayfall/server/people"
	"wayfall/sync/clock"
	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// museum is a server with people, a clock of its own and a witness.
type museum struct {
	*server.Server
	t    testing.TB
	http *httptest.Server
	wit  *witness
	now  *atomic.Int64 // milliseconds
	logs *bytes.Buffer
}

var opening = time.Date(2025, 10, 3, 18, 0, 0, 0, time.UTC) // 14:00 in Michigan

var staff = []people.Person{
	{ID: "ana", Name: "Ana Petrosyan-Reed", Roles: []people.Role{people.Salvager}},
	{ID: "cal", Name: "Cal Whitlock", Roles: []people.Role{people.Salvager}},
	{ID: "desmond", Name: "Desmond Farrow", Roles: []people.Role{people.PermitOfficer}},
	{ID: "gwen", Name: "Gwendolyn Stasik", Roles: []people.Role{people.Registrar}},
	{ID: "teo", Name: "Teo Marchetti", Roles: []people.Role{people.Preparator}},
	{ID: "rita", Name: "Rita Reader", Roles: []people.Role{people.Reader}},
}

// settings are those of every test; change may alter them.
func settings(t testing.TB, now *atomic.Int64, logs io.Writer) server.Config {
	t.Helper()
	zone, err := time.LoadLocation("America/Detroit")
	if err != nil {
		t.Fatal(err)
	}
	cfg := server.Config{Folder: t.TempDir(), Institution: "sablewater", Name: "Sablewater Museum of Natural History", Zone: zone,
		Version: "test", Now: func() time.Time { return time.UnixMilli(now.Load()) }, Chance: crand.Reader,
		Log: slog.New(slog.NewTextHandler(logs, nil)), Taxa: packs.Taxa(), Tries: 1000}
	for _, f := range packs.Rules() {
		cfg.Packs = append(cfg.Packs, server.File{Name: f.Name, Data: f.Data})
	}
	return cfg
}

func open(t testing.TB, change func(*server.Config)) *museum {
	t.Helper()
	m := &museum{t: t, now: &atomic.Int64{}, logs: &bytes.Buffer{}}
	m.now.Store(opening.UnixMilli())
	cfg := settings(t, m.now, m.logs)
	if change != nil {
		change(&cfg)
	}
	var err error
	if m.Server, err = server.New(cfg); err != nil {
		t.Fatal(err)
	}
	m.http = httptest.NewServer(m.Handler())
	if _, measured := t.(*testing.B); !measured {
		m.wit = newWitness(t, m.http.Client().Transport)
		m.http.Client().Transport = m.wit
	}
	t.Cleanup(func() {
		m.http.Close()
		if err := m.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
		if m.wit != nil {
			m.wit.report(t)
		}
	})
	for _, p := range staff {
		p.Institution = cfg.Institution
		if err := m.People().Keep(t.Context(), p); err != nil {
			t.Fatal(err)
		}
		if _, err := m.People().IssueCode(t.Context(), p.ID, people.CodeTerms{Text: "DEMO " + p.ID, Lasts: 1e6 * time.Hour, Reusable: true}); err != nil {
			t.Fatal(err)
		}
	}
	return m
}

// lists has the museum know everybody whom the paper lists.
func (m *museum) lists(a permits.Authority) {
	m.t.Helper()
	for _, g := range a.Persons {
		if _, err := m.People().Person(m.t.Context(), g.Person); err == nil {
			continue
		}
		if err := m.People().Keep(m.t.Context(), people.Person{ID: g.Person, Name: g.Person, Institution: "sablewater"}); err != nil {
			m.t.Fatal(err)
		}
	}
}

// reply is an answer with its body read.
type reply struct {
	*http.Response
	body []byte
}

// member reads one member of the answer.
func (r reply) member(t testing.TB, name string) string {
	t.Helper()
	var all map[string]json.RawMessage
	if err := json.Unmarshal(r.body, &all); err != nil {
		t.Fatalf("%s: %v in %s", r.Request.URL, err, r.body)
	}
	var text string
	if json.Unmarshal(all[name], &text) == nil {
		return text
	}
	return string(all[name])
}

func (r reply) into(t testing.TB, v any) {
	t.Helper()
	if err := json.Unmarshal(r.body, v); err != nil {
		t.Fatalf("%s %s: %v in %s", r.Request.Method, r.Request.URL, err, r.body)
	}
}

// caller asks as somebody.
type caller struct {
	m      *museum
	access string
	device string
	prefix string
}

func (m *museum) nobody() *caller { return &caller{m: m} }

// as signs a person in without a device.
func (m *museum) as(id string) *caller {
	m.t.Helper()
	r := m.nobody().post("/v1/sign-in", map[string]any{"code": "demo-" + id})
	if r.StatusCode != http.StatusOK {
		m.t.Fatalf("sign in as %s: %d %s", id, r.StatusCode, r.body)
	}
	return &caller{m: m, access: r.member(m.t, "access")}
}

func (c *caller) ask(method, path string, body io.Reader, head map[string]string) reply {
	c.m.t.Helper()
	req, err := http.NewRequestWithContext(context.Background(), method, c.m.http.URL+path, body)
	if err != nil {
		c.m.t.Fatal(err)
	}
	if c.access != "" {
		req.Header.Set("Authorization", "Bearer "+c.access)
	}
	for k, v := range head {
		req.Header.Set(k, v)
	}
	resp, err := c.m.http.Client().Do(req)
	if err != nil {
		c.m.t.Fatalf("%s %s: %v", method, path, err)
	}
	defer resp.Body.Close()
	got, err := io.ReadAll(resp.Body)
	if err != nil {
		c.m.t.Fatalf("%s %s: %v", method, path, err)
	}
	return reply{resp, got}
}

func (c *caller) get(path string) reply { c.m.t.Helper(); return c.ask("GET", path, nil, nil) }

func (c *caller) send(method, path string, v any, head map[string]string) reply {
	c.m.t.Helper()
	var body []byte
	if text, ok := v.(string); ok {
		body = []byte(text)
	} else {
		body, _ = json.Marshal(v)
	}
	all := map[string]string{"Content-Type": "application/json"}
	for k, v := range head {
		all[k] = v
	}
	return c.ask(method, path, bytes.NewReader(body), all)
}

func (c *caller) post(path string, v any) reply { c.m.t.Helper(); return c.send("POST", path, v, nil) }

func (c *caller) report(key string, v any) reply {
	c.m.t.Helper()
	return c.send("POST", "/v1/reports", v, map[string]string{"Idempotency-Key": key})
}

// phone is a device with a chain of its own.
type phone struct {
	*caller
	id    op.DeviceID
	actor string
	seq   uint64
	link  op.Link
	stamp clock.Stamp
}

func (m *museum) phone(person string, n byte) *phone {
	m.t.Helper()
	id := op.DeviceID{n, 1, 2, 3}
	r := m.nobody().post("/v1/sign-in", map[string]any{"code": "demo " + person, "device": map[string]any{"id": id.String(), "name": "phone"}})
	if r.StatusCode != http.StatusOK {
		m.t.Fatalf("sign in as %s: %d %s", person, r.StatusCode, r.body)
	}
	var d struct {
		Device struct {
			Prefix string `json:"tag_prefix"`
		}
	}
	r.into(m.t, &d)
	return &phone{caller: &caller{m: m, access: r.member(m.t, "access"), device: id.String(), prefix: d.Device.Prefix},
		id: id, actor: person, link: op.Genesis(id)}
}

// save makes one operation of the groups, but does not send it.
func (p *phone) save(groups ...op.Group) []byte {
	p.m.t.Helper()
	now := time.UnixMilli(p.m.now.Load())
	p.stamp = p.stamp.Next(now)
	p.seq++
	o := op.Op{Dev: p.id, Seq: p.seq, HLC: p.stamp, Wall: op.Wall{Millis: now.UnixMilli(), Zone: "-04:00", Source: "device"},
		Actor: p.actor, Scope: "sablewater", Schema: 1, On: groups}
	wire, err := o.Encode()
	if err != nil {
		p.m.t.Fatal(err)
	}
	return wire
}

// batch makes operations into the body of a push.
func (p *phone) batch(ops ...[]byte) []byte {
	p.m.t.Helper()
	b := oplog.Batch{Dev: p.id, First: p.seq - uint64(len(ops)) + 1, Before: p.link, Ops: ops}
	for _, wire := range ops {
		p.link = op.Next(p.link, wire)
	}
	b.After = p.link
	var out bytes.Buffer
	if err := exchange.WritePush(&out, b); err != nil {
		p.m.t.Fatal(err)
	}
	return out.Bytes()
}

func zipped(b []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(b)
	_ = z.Close()
	return out.Bytes()
}

func (p *phone) pushBody(body []byte, gzipped bool) reply {
	p.m.t.Helper()
	head := map[string]string{"Content-Type": "application/x-ndjson"}
	if gzipped {
		head["Content-Encoding"] = "gzip"
	}
	return p.ask("POST", "/v1/sync/push", bytes.NewReader(body), head)
}

// push sends operations and returns their receipts.
func (p *phone) push(ops ...[]byte) []oplog.Receipt {
	p.m.t.Helper()
	r := p.pushBody(zipped(p.batch(ops...)), true)
	if r.StatusCode != http.StatusOK {
		p.m.t.Fatalf("push: %d %s", r.StatusCode, r.body)
	}
	got, err := exchange.ReadResults(bytes.NewReader(r.body), len(ops))
	if err != nil {
		p.m.t.Fatal(err)
	}
	return got
}

// pull reads the whole log as the caller may see it.
func (c *caller) pull() []oplog.Entry {
	c.m.t.Helper()
	var all []oplog.Entry
	cursor := ""
	for {
		r := c.get("/v1/sync/pull?limit=100&cursor=" + cursor)
		if r.StatusCode != http.StatusOK {
			c.m.t.Fatalf("pull: %d %s", r.StatusCode, r.body)
		}
		page, err := exchange.ReadPull(bytes.NewReader(r.body), 8<<20)
		if err != nil {
			c.m.t.Fatal(err)
		}
		all = append(all, page.Entries...)
		cursor = page.Cursor
		if !page.More {
			return all
		}
	}
}

func val(t testing.TB, v any) op.Value {
	t.Helper()
	out, err := op.ValueOf(v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// find is the ordinary report: a screech-owl hit by a car; change alters it by
// field, with nil leaving a field out.
func find(change map[string]any) map[string]any {
	f := map[string]any{
		"found":    record.When{Earliest: "2025-10-03T13:40", Latest: "2025-10-03T13:40", Precision: record.ToMinute, Zone: "-04:00"},
		"fix":      record.Fix{Lat: 43.46, Lon: -85.9, Accuracy: 8, Level: 0.95, Source: "device"},
		"place":    record.Georeference{Known: true, Lat: 43.46, Lon: -85.9, Radius: 12, Datum: "WGS84", Source: "device"},
		"locality": "M-82 westbound, milepost 9, Newaygo County, Michigan",
		"taxon":    record.Determination{Written: "Eastern Screech-Owl", Name: "Megascops asio", Certainty: record.Sure},
		"count":    1, "material": "carcass", "circumstance": "road", "deed": "taken", "salvager": "cal",
		"cause": record.Cause{Cause: "vehicle", Basis: "position", Certainty: record.Likely},
		"signs": record.Signs{Crime: "no", Caused: "no", Planned: "no", Research: "no", Keep: "no", PermitCopy: "yes", Danger: "no", InHand: "yes", Others: "no"},
		"land":  record.Land{Permission: "yes", Manager: "road_authority", Written: true}, "band": "none",
	}
	for k, v := range change {
		if v == nil {
			delete(f, k)
		} else {
			f[k] = v
		}
	}
	return f
}

// groups writes a find as a phone does: the report and its animals, bagged.
func groups(t testing.TB, report op.ID, fields map[string]any, animals ...op.ID) []op.Group {
	t.Helper()
	g := op.Group{ID: report, Kind: "report"}
	out := []op.Group{}
	for _, f := range record.Fields {
		v, said := fields[f.Name]
		if f.Kind != record.Report || !said {
			continue
		}
		g.Acts = append(g.Acts, op.Act{Kind: f.Merge.Act(), Field: f.Name, Value: val(t, v)})
	}
	for _, id := range animals {
		g.Acts = append(g.Acts, op.Add("animals", op.Text(id.String())))
		out = append(out, op.Group{ID: id, Kind: "animal", Acts: []op.Act{op.Set("taxon", val(t, fields["taxon"])), op.Set("disposition", op.Text("private_freezer"))}})
	}
	return append([]op.Group{g}, out...)
}

type serverConfig = server.Config

func sha(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
