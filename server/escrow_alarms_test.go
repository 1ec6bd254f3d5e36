package server_test

import (
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/server"
	"wayfall/server/store"
	"wayfall/sync/op"
)

type oddItem struct {
	ID, Code, Why, Todo string
	Ways                []struct{ How, Label string }
}

// odd lists what needs a look under a code.
func odd(t *testing.T, m *museum, code string) []oddItem {
	t.Helper()
	var out struct {
		Items  []oddItem
		Counts map[string]int
	}
	expect(t, "review", m.as("desmond").get("/v1/review?code="+code), 200).into(t, &out)
	if out.Counts[code] != len(out.Items) {
		t.Errorf("%s: got %d counted and %d listed", code, out.Counts[code], len(out.Items))
	}
	return out.Items
}

// counted saves a find counted on any serial of any share.
func (b *borrower) counted(n byte, sp escrow.Spend) {
	b.m.t.Helper()
	g := groups(b.m.t, op.ID{b.id[0], n}, find(map[string]any{"authority": paper, "salvager": b.actor}), op.ID{b.id[0], n, 1})
	g[0].Acts = append(g[0].Acts, op.Event("spent", val(b.m.t, sp)))
	b.push(b.save(g...))
}

func TestWhatIsOddAboutSharesNeedsALook(t *testing.T) {
	for _, c := range []struct {
		name, code, says string
		do               func(t *testing.T, m *museum, all []*borrower)
	}{
		{"a serial that was never lent", "no_such_serial", "never lent", func(_ *testing.T, _ *museum, all []*borrower) {
			all[0].counted(1, escrow.Spend{Authority: paper, Quota: loons, Grant: all[0].purse.Holdings[0].ID, Serial: 99})
		}},
		{"another phone's share", "not_its_own", "another phone", func(_ *testing.T, _ *museum, all []*borrower) {
			h := all[1].purse.Holdings[0]
			all[0].counted(1, escrow.Spend{Authority: paper, Quota: loons, Grant: h.ID, Serial: h.First})
		}},
		{"two animals on one serial", "spent_twice", "Two animals", func(_ *testing.T, _ *museum, all []*borrower) {
			h := all[0].purse.Holdings[0]
			for n := range byte(2) {
				all[0].counted(n+1, escrow.Spend{Authority: paper, Quota: loons, Grant: h.ID, Serial: h.First})
			}
		}},
		{"a copied phone goes on", "spent_when_gone", "lost or copied", func(t *testing.T, m *museum, all []*borrower) {
			b := all[0]
			b.loon(1)
			b.sync(false)
			b.seq--
			expect(t, "a phone that is behind", b.ask(), 409)
			b.seq++
			b.loon(2)
			b.sync(false)
		}},
		{"amended below what is out", "amended_below", "allows 2 now", func(t *testing.T, m *museum, all []*borrower) {
			var sheet struct{ Document permits.Authority }
			expect(t, "permit", m.as("desmond").get("/v1/permits/"+paper), 200).into(t, &sheet)
			doc := sheet.Document
			doc.Version, doc.EffectiveFrom, doc.Quotas[0].Limit = doc.Version+1, foundOn, 2
			expect(t, "amend", m.as("desmond").send("PUT", "/v1/permits/"+paper, doc, nil), 200)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := open(t, nil)
			papers(t, m)
			all := borrowers(m, 3)
			for _, b := range all {
				b.hear(b.ask())
			}
			if got := odd(t, m, c.code); len(got) != 0 {
				t.Fatalf("before: got %+v, want nothing odd", got)
			}
			c.do(t, m, all)
			got := odd(t, m, c.code)
			if len(got) == 0 || !strings.Contains(got[0].Why, c.says) || got[0].Todo == "" {
				t.Fatalf("got %+v, want an item that says %q and what to do", got, c.says)
			}
			t.Logf("SHOW %s: %s %s", c.name, got[0].Why, got[0].Todo)
			for _, it := range got {
				expect(t, "settle", m.as("desmond").post("/v1/review/"+it.ID+"/settle", map[string]any{"how": "seen", "note": "asked Ana"}), 204)
			}
			if after := odd(t, m, c.code); len(after) != 0 {
				t.Errorf("settled: got %+v, want nothing", after)
			}
		})
	}
}

func TestAStoreThatWasPutBackLendsNothingUntilAPersonSaysSo(t *testing.T) {
	var cfg serverConfig
	m := open(t, func(c *serverConfig) { cfg = *c })
	papers(t, m)
	all := borrowers(m, 3)
	all[0].hear(all[0].ask())
	copied := filepath.Join(t.TempDir(), "copy.db")
	db := filepath.Join(cfg.Folder, "wayfall.db")
	side, err := store.Open(db, store.Options{Now: time.Now, Random: cfg.Chance})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := side.Backup(t.Context(), copied); err != nil {
		t.Fatal(err)
	}
	if err := side.Close(); err != nil {
		t.Fatal(err)
	}
	all[1].hear(all[1].ask()) // after the copy: its share is forgotten
	if all[1].purse.Left(paper, loons, "Gavia immer", foundOn) == 0 {
		t.Fatal("the second phone holds nothing")
	}
	m.http.Close()
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{db, db + "-wal", db + "-shm"} {
		if err := os.Remove(f); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
	}
	if err := os.Rename(copied, db); err != nil {
		t.Fatal(err)
	}
	if side, err = store.Open(db, store.Options{Now: time.Now, Random: cfg.Chance}); err != nil {
		t.Fatal(err)
	}
	if err := side.NewIncarnation(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := side.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := server.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	m.Server, m.http = again, httptest.NewServer(again.Handler())

	if n := number(t, m); n.Free != 0 || n.Reserve != 0 {
		t.Errorf("after it was put back: got %d free and %d in reserve, want none", n.Free, n.Reserve)
	}
	before := len(number(t, m).Shares)
	expect(t, "ask", all[2].ask(), 200)
	if n := number(t, m); len(n.Shares) != before {
		t.Errorf("it lent %d shares more, want none", len(n.Shares)-before)
	}
	items := odd(t, m, "store_put_back")
	if len(items) != 1 || items[0].Ways[0].How != "vouch" {
		t.Fatalf("got %+v, want one item with a person's word as the way on", items)
	}
	t.Logf("SHOW put back: %s %s", items[0].Why, items[0].Todo)
	expect(t, "without a reason", m.as("desmond").post("/v1/review/"+items[0].ID+"/settle", map[string]any{"how": "vouch"}), 422)
	expect(t, "with a reason", m.as("desmond").post("/v1/review/"+items[0].ID+"/settle", map[string]any{"how": "vouch", "note": "Cal's phone was declared lost; nothing was entered."}), 204)
	if got := odd(t, m, "store_put_back"); len(got) != 0 {
		t.Errorf("after the word: got %+v, want nothing", got)
	}
	if n := number(t, m); n.Free == 0 {
		t.Error("after the word: nothing is free")
	}
	expect(t, "ask again", all[2].ask(), 200)
	if n := number(t, m); len(n.Shares) <= before {
		t.Error("after the word it still lends nothing")
	}
}

func TestAShareThatNobodyGaveBackIsShownWhenItsWindowEnded(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	b := borrowers(m, 1)[0]
	b.hear(b.ask())
	if got := odd(t, m, "share_not_back"); len(got) != 0 {
		t.Fatalf("in the window: got %+v, want nothing", got)
	}
	lent := 0
	for _, h := range b.purse.Holdings {
		if h.To.Year() == 2025 {
			lent++
		}
	}
	m.now.Add(int64(120 * 24 * time.Hour / time.Millisecond))
	got := odd(t, m, "share_not_back")
	if lent == 0 || len(got) != lent {
		t.Fatalf("after the year: got %d items, want %d, one for each share of it", len(got), lent)
	}
	t.Logf("SHOW not given back: %s %s", got[0].Why, got[0].Todo)
	var out struct{ Numbers []struct{ From, To string } }
	expect(t, "numbers", m.as("desmond").get("/v1/grants"), 200).into(t, &out)
	for _, n := range out.Numbers {
		if n.To < "2026-01-01" {
			t.Errorf("a number of %s to %s can still be lent", n.From, n.To)
		}
	}
	expect(t, "declare lost", m.as("desmond").post("/v1/devices/"+b.device+"/lost", map[string]any{}), 204)
	if got := odd(t, m, "share_not_back"); len(got) != 0 {
		t.Errorf("written off: got %+v, want nothing", got)
	}
}
