package server_test

import (
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/server"
	"wayfall/server/api"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// borrower is a phone that holds shares.
type borrower struct {
	*phone
	purse   escrow.Purse
	pending [][]byte
	refs    []op.ID // of every find it made
	covered int
}

const loons, paper = "LOON", "SW-MI-SALV"

var foundOn = permits.NewDate(2025, 10, 3)

func (b *borrower) ask() reply {
	b.m.t.Helper()
	return b.post("/v1/grants", map[string]any{"device": b.device, "next_seq": b.seq + 1})
}

// hear puts what an answer says into the purse.
func (b *borrower) hear(r reply) {
	b.m.t.Helper()
	if r.StatusCode != http.StatusOK {
		b.m.t.Fatalf("ask for shares: %d %s", r.StatusCode, r.body)
	}
	var out struct{ Grants []api.Share }
	r.into(b.m.t, &out)
	for _, s := range out.Grants {
		from, _ := permits.ParseDate(s.From)
		to, _ := permits.ParseDate(s.To)
		b.purse.Take(escrow.Holding{Next: s.Next, Grant: escrow.Grant{ID: s.ID, Device: s.Device, First: s.First, Last: s.Last,
			Number: escrow.Number{Authority: s.Authority, Quota: s.Quota, Taxon: s.Taxon, From: from, To: to}}})
	}
}

// loon saves the find of a loon without signal, with a unit of the phone's
// share in the same save if it holds one.
func (b *borrower) loon(n byte) {
	b.m.t.Helper()
	report, animal := op.ID{b.id[0], n}, op.ID{b.id[0], n, 1}
	fields := find(map[string]any{"taxon": record.Determination{Written: "Common Loon", Name: "Gavia immer", Certainty: record.Sure}, "authority": paper, "salvager": b.actor})
	all, ok := b.purse.Spend(paper, loons, "Gavia immer", foundOn, 1)
	if !ok {
		delete(fields, "authority")
	}
	g := groups(b.m.t, report, fields, animal)
	for _, s := range all {
		g[0].Acts = append(g[0].Acts, op.Event("spent", val(b.m.t, s)))
		b.covered++
	}
	b.pending, b.refs = append(b.pending, b.save(g...)), append(b.refs, report)
}

// sync pushes what waits; twice, where the first answer was lost.
func (b *borrower) sync(twice bool) {
	b.m.t.Helper()
	if len(b.pending) == 0 {
		return
	}
	body := b.batch(b.pending...)
	for range 2 {
		if r := b.pushBody(body, false); r.StatusCode != http.StatusOK {
			b.m.t.Fatalf("push: %d %s", r.StatusCode, r.body)
		}
		if !twice {
			break
		}
	}
	b.pending = nil
}

func borrowers(m *museum, n int) []*borrower {
	var out []*borrower
	for i := range n {
		out = append(out, &borrower{phone: m.phone([]string{"ana", "cal"}[i%2], byte(10+i))})
	}
	return out
}

// number reads where the units of the loons are.
func number(t *testing.T, m *museum) api.Number {
	t.Helper()
	var out struct{ Numbers []api.Number }
	expect(t, "numbers", m.as("desmond").get("/v1/grants"), 200).into(t, &out)
	for _, n := range out.Numbers {
		if n.Quota == loons {
			return n
		}
	}
	t.Fatalf("the number of loons is not among %+v", out.Numbers)
	return api.Number{}
}

func TestFivePhonesNeverPassTwelveLoonsTogether(t *testing.T) {
	for seed := range uint64(4) {
		m := open(t, nil)
		papers(t, m)
		rnd := rand.New(rand.NewPCG(seed, 12))
		all := borrowers(m, 5)
		for _, b := range all {
			b.hear(b.ask())
		}
		finds := byte(0)
		for range 90 {
			b := all[rnd.IntN(len(all))]
			switch what := rnd.IntN(8); {
			case what < 3 && finds < 30:
				finds++
				b.loon(finds)
			case what < 5:
				b.sync(rnd.IntN(2) == 0)
			case what == 5:
				b.sync(false)
				b.hear(b.ask())
			case what == 6:
				b.ask() // and the answer is lost
			default:
				b.hear(b.ask()) // before it told what it spent
			}
		}
		covered, recorded := 0, 0
		for _, b := range all {
			b.sync(false)
			covered += b.covered
			for _, id := range b.refs {
				if r := b.get("/v1/reports/" + id.String()); r.StatusCode == http.StatusOK {
					recorded++
				}
			}
		}
		n := number(t, m)
		t.Logf("seed %d: %d loons found, %d recorded, %d said to be covered by phones; %d spent, %d lent, %d entered, %d over, %d free, %d in reserve",
			seed, finds, recorded, covered, n.Spent, n.Lent, n.Entered, n.Over, n.Free, n.Reserve)
		if covered > 12 || n.Spent+n.Entered > 12 {
			t.Errorf("seed %d: phones covered %d and the ledger %d, want at most 12 animals", seed, covered, n.Spent+n.Entered)
		}
		if n.Spent != covered {
			t.Errorf("seed %d: the ledger knows %d spends, want the %d of the phones", seed, n.Spent, covered)
		}
		if recorded != int(finds) {
			t.Errorf("seed %d: %d finds are recorded, want all %d", seed, recorded, finds)
		}
		if got := n.Free + n.Reserve + n.Lent + n.Spent + n.Burned + n.Entered; got != 12 {
			t.Errorf("seed %d: the places of the units add up to %d, want 12", seed, got)
		}
		if got := n.Spent + n.Entered + n.Over; got != int(finds) {
			t.Errorf("seed %d: %d animals are counted, want all %d", seed, got, finds)
		}
		if len(n.Alarms) > 0 {
			t.Errorf("seed %d: honest phones raised %v", seed, n.Alarms)
		}
	}
}

func TestPhonesThatAskAtOnceAreLentNoUnitTwice(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	all := borrowers(m, 5)
	var wg sync.WaitGroup
	for range 3 {
		for _, b := range all {
			wg.Go(func() { b.ask() })
		}
	}
	wg.Wait()
	n, seen := number(t, m), map[int]bool{}
	for _, s := range n.Shares {
		for serial := s.First; serial <= s.Last; serial++ {
			if seen[serial] {
				t.Errorf("serial %d was lent twice", serial)
			}
			seen[serial] = true
		}
	}
	if n.Lent != len(seen) || n.Lent > 11 || n.Lent == 0 || len(n.Alarms) > 0 {
		t.Errorf("got %d lent, %d serials, alarms %v; want some, at most 11, and no alarm", n.Lent, len(seen), n.Alarms)
	}
}

func TestAPhoneIsLostAndOneIsPutBack(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	all := borrowers(m, 5)
	for _, b := range all {
		b.hear(b.ask())
	}
	before := number(t, m)
	lost, copied, gives := all[0], all[1], all[2]
	held := lost.purse.Left(paper, loons, "Gavia immer", foundOn)
	expect(t, "by a salvager", lost.post("/v1/devices/"+lost.device+"/lost", map[string]any{}), http.StatusForbidden)
	expect(t, "declare lost", m.as("desmond").post("/v1/devices/"+lost.device+"/lost", map[string]any{}), 204)
	if n := number(t, m); held == 0 || n.Burned != held || n.Free != before.Free {
		t.Errorf("a lost phone that held %d: got %d burned and %d free, want %d and %d", held, n.Burned, n.Free, held, before.Free)
	}

	copied.loon(1)
	copied.sync(false)
	copied.seq-- // its store was put back to before the save
	expect(t, "a phone that is behind", copied.ask(), http.StatusConflict)
	var kit struct{ Grants []api.Share }
	expect(t, "its kit", copied.get("/v1/field-kit"), 200).into(t, &kit)
	if kit.Grants == nil || len(kit.Grants) != 0 {
		t.Errorf("a phone that was put back still holds %v, want an empty list", kit.Grants)
	}

	expect(t, "kit", gives.get("/v1/field-kit"), 200).into(t, &kit)
	if len(kit.Grants) != 1 || kit.Grants[0].Left == 0 {
		t.Fatalf("the kit holds %+v, want one share", kit.Grants)
	}
	s, free := kit.Grants[0], number(t, m).Free
	back, _ := gives.purse.GiveBack(s.ID)
	record, err := op.ParseID(s.Record)
	if err != nil {
		t.Fatal(err)
	}
	gives.push(gives.save(op.Group{ID: record, Kind: "authority", Acts: []op.Act{op.Event("returned", val(t, back))}}))
	if got := number(t, m).Free; got != free+s.Left {
		t.Errorf("after %d units were given back: got %d free, want %d", s.Left, got, free+s.Left)
	}
	var balance struct {
		Balances []struct{ Used, Lent, Free int }
	}
	expect(t, "balance", m.as("desmond").get("/v1/permits/"+paper+"/balance"), 200).into(t, &balance)
	n := number(t, m)
	if got := balance.Balances[0]; got.Used != 1 || got.Lent != n.Lent+n.Burned || got.Used+got.Lent+got.Free != 12 {
		t.Errorf("balance: got %+v, want 1 used, %d lent or burned, 12 in all", got, n.Lent+n.Burned)
	}
}

func TestAPhoneCannotLendToItself(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	all := borrowers(m, 3)
	for _, b := range all {
		b.hear(b.ask())
	}
	before := number(t, m)
	record, err := op.ParseID(before.Shares[0].Record)
	if err != nil {
		t.Fatal(err)
	}
	forged := json.RawMessage(`{"id":"mine","device":"` + all[0].device + `","authority":"SW-MI-SALV","quota":"LOON","taxon":"Gavia immer","from":"2025-01-01","to":"2025-12-31","first":100,"last":110}`)
	all[0].push(all[0].save(op.Group{ID: record, Kind: "authority", Acts: []op.Act{op.Event("grants", val(t, forged))}}))
	if after := number(t, m); after.Lent != before.Lent || len(after.Shares) != len(before.Shares) {
		t.Errorf("a phone lent itself a share: %+v", after.Shares)
	}
}

func TestARestartFoldsTheSameLedgerAndAnAmendmentTakesNothingBack(t *testing.T) {
	var cfg serverConfig
	m := open(t, func(c *serverConfig) { cfg = *c })
	papers(t, m)
	all := borrowers(m, 5)
	for i, b := range all {
		b.hear(b.ask())
		b.loon(byte(i + 1))
		b.sync(false)
	}
	before, _ := json.Marshal(number(t, m))
	m.http.Close()
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := server.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	m.Server, m.http = again, httptest.NewServer(again.Handler())
	if after, _ := json.Marshal(number(t, m)); string(after) != string(before) {
		t.Errorf("after a restart: got %s, want %s", after, before)
	}

	var sheet struct{ Document permits.Authority }
	expect(t, "permit", m.as("desmond").get("/v1/permits/"+paper), 200).into(t, &sheet)
	doc := sheet.Document
	doc.Version, doc.EffectiveFrom, doc.Quotas[0].Limit = doc.Version+1, foundOn, 6
	expect(t, "amend", m.as("desmond").send("PUT", "/v1/permits/"+paper, doc, nil), 200)
	was := number(t, m)
	if was.Limit != 6 || was.Free != 0 || was.Lent+was.Spent <= 6 {
		t.Fatalf("amended below what is out: got %+v, want 6, none free and more than 6 lent and spent", was)
	}
	for _, b := range all {
		b.hear(b.ask())
	}
	if n := number(t, m); n.Lent != was.Lent || n.Spent != was.Spent {
		t.Errorf("after the amendment: got %d lent and %d spent, want %d and %d still", n.Lent, n.Spent, was.Lent, was.Spent)
	}
}

// lending is the part of an animal's life that phones with shares see.
func lending(t *testing.T, m *museum) {
	b := &borrower{phone: m.phone("cal", 90)}
	b.hear(b.ask())
	number(t, m)
	expect(t, "declare lost", m.as("desmond").post("/v1/devices/"+b.device+"/lost", map[string]any{}), 204)
}
