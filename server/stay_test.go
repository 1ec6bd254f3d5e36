package server_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"wayfall/server"
	"wayfall/server/people"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

func TestARestartSaysNothingTwiceAndForgetsNothing(t *testing.T) {
	var now atomic.Int64
	now.Store(opening.UnixMilli())
	cfg := settings(t, &now, io.Discard)
	again := func(c *server.Config) { *c = cfg }
	m := open(t, again)
	papers(t, m)
	cal := m.phone("cal", 1)
	cal.push(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...), cal.save(groups(t, op.ID{3}, find(map[string]any{"deed": "left"}), op.ID{4})...))
	before := cal.pull()
	m.http.Close()
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	next := open(t, again)
	after := next.as("gwen").pull()
	if len(after) != len(before) {
		t.Errorf("the log holds %d operations after the restart, want the %d of before", len(after), len(before))
	}
	if r := next.as("gwen").get("/v1/reports"); r.member(t, "all") != "2" {
		t.Errorf("got %s, want the two reports", r.body)
	}
}

// Two phones without signal take loons under one number. Whoever comes back
// first, the loon found last is the one too many.
func TestTheLoonFoundLastIsTheOneTooMany(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	gwen := m.as("gwen")
	loon := func(n int) map[string]any {
		at := fmt.Sprintf("2025-10-03T%02d:%02d", 6+n/10, n%10)
		return find(map[string]any{"taxon": record.Determination{Written: "Common Loon", Name: "Gavia immer", Certainty: record.Sure},
			"found": record.When{Earliest: at, Latest: at, Precision: record.ToMinute, Zone: "-04:00"}, "circumstance": "beach",
			"cause": record.Cause{Cause: "drowned"}, "land": record.Land{Permission: "yes", Manager: "state", Written: true}})
	}
	over := func() string { return string(gwen.get("/v1/review?code=over_quota").body) }
	cal := m.phone("cal", 1)
	var ops [][]byte
	for n := range 12 { // the last twelve of thirteen, found 06:01 and later
		ops = append(ops, cal.save(groups(t, op.ID{1, byte(n + 1)}, loon(n+1), op.ID{2, byte(n + 1)})...))
	}
	cal.push(ops...)
	if list := over(); !strings.Contains(list, `"items":[]`) {
		t.Fatalf("twelve of twelve: got %s, want nothing over", list)
	}
	other := m.phone("cal", 2)
	if got := other.push(other.save(groups(t, op.ID{1, 0, 9}, loon(0), op.ID{2, 0, 9})...))[0]; got.Effect == oplog.None || got.Effect == oplog.Quarantined {
		t.Errorf("the thirteenth to come in: got %v, want it kept", got.Effect)
	}
	list := over()
	if last := (op.ID{1, 12}).String(); !strings.Contains(list, last) || strings.Count(list, `"code":"over_quota"`) != 1 {
		t.Errorf("got %s, want %s alone, which was found last", list, last)
	}
}

func TestASaveInAnothersNameAndFromALostPhone(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	cal.actor = "ana"
	if got := cal.push(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...))[0]; got.Effect != oplog.Review || got.Code != "wrong_actor" {
		t.Errorf("in another's name: got %v %s, want review wrong_actor", got.Effect, got.Code)
	}
	if err := m.People().DeclareLost(t.Context(), cal.device); err != nil {
		t.Fatal(err)
	}
	cal.actor = "cal"
	wire := cal.save(groups(t, op.ID{3}, find(nil), op.ID{4})...)
	if got := cal.push(wire)[0]; got.Effect != oplog.Quarantined || got.Code != "lost_device" {
		t.Errorf("from a lost phone: got %v %s, want quarantined lost_device", got.Effect, got.Code)
	}
	if !logHolds(m.as("gwen"), wire) {
		t.Error("what the lost phone sent is not in the log")
	}
	if r := m.as("gwen").get("/v1/review?code=lost_device"); !strings.Contains(string(r.body), "lost_device") {
		t.Errorf("not on the list of what needs a look: %s", r.body)
	}
}

func TestASalvagerWhoWritesACatalogueNumberIsKeptAndShown(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	got := cal.push(cal.save(op.Group{ID: op.ID{2}, Kind: "animal", Acts: []op.Act{op.Set("catalogue_no", op.Text("ORN 1"))}}))[0]
	if got.Effect != oplog.Review || got.Code != "not_yours" {
		t.Errorf("got %v %s, want review not_yours", got.Effect, got.Code)
	}
}

func TestTheSuggestedDateIsTakenWithoutLosingTheOther(t *testing.T) {
	m := open(t, nil)
	cal, gwen := m.phone("cal", 1), m.as("gwen")
	day := record.When{Earliest: "2025-03-10T00:00", Latest: "2025-03-10T23:59", Precision: record.ToDay}
	cal.push(cal.save(groups(t, op.ID{1}, find(map[string]any{"found": day}), op.ID{2})...))
	var open struct {
		Items []struct {
			ID      string
			Suggest *record.When
			Ways    []struct{ How string }
		}
	}
	gwen.get("/v1/review?code=date_doubt").into(t, &open)
	if len(open.Items) != 1 || open.Items[0].Suggest == nil || open.Items[0].Suggest.Earliest != "2025-10-03T00:00" {
		t.Fatalf("got %+v, want one doubt that suggests 3 October", open.Items)
	}
	expect(t, "settle", gwen.post("/v1/review/"+open.Items[0].ID+"/settle", map[string]any{"how": "change", "note": "Cal says October"}), 204)
	r := gwen.get("/v1/reports/" + op.ID{1}.String())
	if !strings.Contains(string(r.body), `"2025-10-03T00:00"`) || strings.Contains(string(r.body), `"differs":true`) {
		t.Errorf("got %s, want 3 October, agreed upon", r.body)
	}
	held := false
	for _, e := range gwen.pull() {
		held = held || strings.Contains(string(e.Wire), "2025-03-10T00:00")
	}
	if !held {
		t.Error("the log no longer holds 10 March")
	}
	if r := gwen.get("/v1/review?code=date_doubt"); !strings.Contains(string(r.body), `"items":[]`) {
		t.Errorf("still on the list: %s", r.body)
	}
}

func TestStoppingFinishesWhatWasBegun(t *testing.T) {
	var now atomic.Int64
	now.Store(opening.UnixMilli())
	entered, leave := make(chan bool), make(chan bool)
	cfg := settings(t, &now, io.Discard)
	cfg.Wrap = func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			entered <- true
			<-leave
			next.ServeHTTP(w, r)
		})
	}
	s, err := server.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	served, answered := make(chan error, 1), make(chan int, 1)
	go func() { served <- s.Serve(ctx, l) }()
	go func() {
		r, err := http.Get("http://" + l.Addr().String() + "/v1/health")
		if err != nil {
			answered <- 0
			return
		}
		r.Body.Close()
		answered <- r.StatusCode
	}()
	<-entered
	stop()
	time.Sleep(50 * time.Millisecond)
	leave <- true
	if got := <-answered; got != http.StatusOK {
		t.Errorf("the request under way got %d, want 200", got)
	}
	if err := <-served; err != nil {
		t.Errorf("stopping: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Errorf("closing: %v", err)
	}
}

func TestTheDeskIsThereAndGuarded(t *testing.T) {
	m := open(t, nil)
	key, _, err := m.People().OpenSession(t.Context(), "demo gwen")
	if err != nil {
		t.Fatal(err)
	}
	cookie := map[string]string{"Cookie": "wayfall_desk=" + key}
	page := m.nobody().ask("GET", "/", nil, cookie)
	if page.StatusCode != 200 || !strings.Contains(page.Header.Get("Content-Type"), "text/html") {
		t.Errorf("the start page: %d %s", page.StatusCode, page.Header.Get("Content-Type"))
	}
	for _, h := range []string{"Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy"} {
		if page.Header.Get(h) == "" {
			t.Errorf("the start page lacks %s", h)
		}
	}
	if r := m.nobody().ask("GET", "/v1/arrivals", nil, cookie); r.StatusCode != 200 {
		t.Errorf("reading the interface with a desk session: %d %s, want 200", r.StatusCode, r.body)
	}
	head := map[string]string{"Cookie": cookie["Cookie"], "Content-Type": "application/json"}
	problemOf(t, "writing with a desk session", m.nobody().ask("POST", "/v1/arrivals", strings.NewReader(`{"from":"x"}`), head), 401)
	head["Sec-Fetch-Site"], head["Content-Type"] = "cross-site", "application/x-www-form-urlencoded"
	if r := m.nobody().ask("POST", "/arrivals", strings.NewReader("from=x"), head); r.StatusCode != http.StatusForbidden {
		t.Errorf("a form from another site: %d, want 403", r.StatusCode)
	}
}

func TestAPersonWhoIsLeftOutOfTheListCannotComeBack(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 1)
	if err := m.People().Keep(t.Context(), people.Person{ID: "cal", Name: "Cal Whitlock", Left: true}); err != nil {
		t.Fatal(err)
	}
	problemOf(t, "signing in", m.nobody().post("/v1/sign-in", map[string]any{"code": "demo cal"}), 401)
	if cal.get("/v1/reports").StatusCode != 200 {
		t.Error("an access token that still runs was cut off; it should end by itself")
	}
}
