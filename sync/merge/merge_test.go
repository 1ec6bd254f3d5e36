package merge

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

func seedFor(t *testing.T) uint64 {
	seed := uint64(20260503)
	if s := os.Getenv("WAYFALL_SEED"); s != "" {
		n, err := strconv.ParseUint(s, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		seed = n
	}
	t.Logf("seed %d; WAYFALL_SEED replays another", seed)
	return seed
}

func shownValues(vs []Value) []op.Value {
	var out []op.Value
	for _, v := range vs {
		out = append(out, v.JSON)
	}
	slices.Sort(out)
	return out
}

// Any order, any grouping, any repetition gives the same record, and what
// survives is what the definition says.
func TestTenThousandRandomHistories(t *testing.T) {
	seed := seedFor(t)
	contested, reviewed, hidden := 0, 0, 0
	histories := uint64(10_000)
	if testing.Short() {
		histories = 2_000
	}
	for i := range histories {
		rng := rand.New(rand.NewPCG(seed, i))
		h := drawHistory(rng, 2+rng.IntN(14))
		want := h.inOrder()
		for range 2 {
			if got := h.fold(rng); got.Digest() != want.Digest() {
				t.Fatalf("seed %d history %d: replicas disagree\n got %+v\nwant %+v", seed, i, got.Fields(), want.Fields())
			}
		}
		for _, name := range []string{"cause", "taxon", "mystery"} {
			if got, must := shownValues(want.Field(name).Values), h.surviving(name); !slices.Equal(got, must) {
				t.Fatalf("seed %d history %d, %s: got values %v, want %v", seed, i, name, got, must)
			}
		}
		if got, must := shownValues(want.Field("photos").Elements), h.present("photos"); !slices.Equal(got, must) {
			t.Fatalf("seed %d history %d: got elements %v, want %v", seed, i, got, must)
		}
		back, err := Decode(want.Append(nil))
		if err != nil || back.Digest() != want.Digest() {
			t.Fatalf("seed %d history %d: kept and read again it differs (%v)", seed, i, err)
		}
		if want.Field("cause").Differs() {
			contested++
		}
		switch s, _ := want.Standing(); s {
		case Review:
			reviewed++
		case Hidden:
			hidden++
		}
	}
	if contested < int(histories)/10 || reviewed < int(histories)/10 || hidden < int(histories)/100 {
		t.Errorf("the histories are too tame: %d differ, %d in review, %d hidden", contested, reviewed, hidden)
	}
}

func TestJoinIsASemilattice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		h := drawHistory(rng, 12)
		part := func() State {
			s := New(theID, kind)
			for i, o := range h.ops {
				switch rng.IntN(3) {
				case 0:
					s.Apply(o, h.receipts[i])
				case 1:
					s.Apply(o, Receipt{})
				}
			}
			return s
		}
		a, b, c := part(), part(), part()
		same := func(law string, x, y State) {
			if x.Digest() != y.Digest() {
				t.Fatalf("not %s:\n%+v\n%+v", law, x, y)
			}
		}
		same("commutative", Join(a, b), Join(b, a))
		same("associative", Join(Join(a, b), c), Join(a, Join(b, c)))
		same("idempotent", Join(a, a), a)
		same("absorbing", Join(Join(a, b), b), Join(a, b))
		same("neutral to the empty record", Join(a, New(theID, kind)), a)
	})
}

func TestSnapshotAndTailEqualTheWholeLog(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		h := drawHistory(rng, 16)
		cut := rng.IntN(len(h.ops))
		snap := New(theID, kind)
		for i := range cut {
			snap.Apply(h.ops[i], h.receipts[i])
		}
		tail, err := Decode(snap.Append(nil))
		if err != nil {
			t.Fatal(err)
		}
		for i := cut; i < len(h.ops); i++ {
			tail.Apply(h.ops[i], h.receipts[i])
		}
		if tail.Digest() != h.inOrder().Digest() {
			t.Fatalf("cut after %d of %d: the states differ", cut, len(h.ops))
		}
	})
}

// teller makes the saves of one phone in a told story.
type teller struct {
	dev op.DeviceID
	seq uint64
	ms  int64
}

func (w *teller) save(base uint64, acts ...op.Act) op.Op {
	w.seq++
	w.ms += 1000
	return op.Op{Dev: w.dev, Seq: w.seq, HLC: clock.Stamp{Millis: w.ms}, Actor: string('a' + rune(w.dev[0])), Scope: "s",
		Base: base, Schema: 1, On: []op.Group{{ID: theID, Kind: string(kind), Acts: acts}}}
}

func twoPhones() (ada, bo *teller, first op.Op) {
	ada, bo = &teller{dev: op.DeviceID{1}, ms: 1000}, &teller{dev: op.DeviceID{2}, ms: 2500}
	return ada, bo, ada.save(0, op.Set("cause", `"window"`), op.Set("locality", `"pier"`))
}

func fold(ops ...op.Op) State {
	s := New(theID, kind)
	for i, o := range ops {
		s.Apply(o, Receipt{LSN: uint64(i + 1), Eff: o.HLC})
	}
	return s
}

func TestTwoPhonesEditDifferentFields(t *testing.T) {
	ada, bo, first := twoPhones()
	before := fold(first)
	a := ada.save(1, op.Set("cause", `"cat"`, before.Saw("cause", ada.dev)...))
	b := bo.save(1, op.Set("locality", `"north pier"`, before.Saw("locality", bo.dev)...))
	for name, s := range map[string]State{"one way": fold(first, a, b), "the other way": fold(first, b, a)} {
		if got := s.Value("cause"); got != `"cat"` {
			t.Errorf("%s: got cause %s, want \"cat\"", name, got)
		}
		if got := s.Value("locality"); got != `"north pier"` {
			t.Errorf("%s: got locality %s, want \"north pier\"", name, got)
		}
		if d := s.Differing(); len(d) != 0 {
			t.Errorf("%s: %d fields differ, want none", name, len(d))
		}
	}
}

func TestTwoPhonesEditTheSameField(t *testing.T) {
	ada, bo, first := twoPhones()
	before := fold(first)
	a := ada.save(1, op.Set("cause", `"cat"`, before.Saw("cause", ada.dev)...))
	b := bo.save(1, op.Set("cause", `"car"`, before.Saw("cause", bo.dev)...))
	both := fold(first, a, b)
	f := both.Field("cause")
	if !f.Differs() || !slices.Equal(shownValues(f.Values), []op.Value{`"car"`, `"cat"`}) {
		t.Fatalf("got %+v, want both values kept for review", f)
	}
	if f.Shown() != `"car"` || f.Values[0].By[0].Actor != b.Actor || f.Values[1].By[0].Dot != a.Dot(0) {
		t.Errorf("got %+v, want the newer one first, each with who wrote it", f.Values)
	}
	if d := both.Differing(); len(d) != 1 || d[0].Name != "cause" {
		t.Errorf("got %v to review, want cause alone", d)
	}
	desk := &teller{dev: op.DeviceID{3}, ms: 9000}
	resolve := desk.save(3, op.Set("cause", `"car"`, both.Saw("cause", desk.dev)...))
	for name, s := range map[string]State{"in order": fold(first, a, b, resolve), "resolved before it was seen": fold(resolve, b, first, a)} {
		if f := s.Field("cause"); f.Differs() || f.Shown() != `"car"` || len(f.Values[0].By) != 1 {
			t.Errorf("%s: got %+v, want one value, the reviewer's", name, f)
		}
	}
}

func TestAnOlderWritingOfAnotherPhoneIsNotTouchedByWhatWasSeenLater(t *testing.T) {
	ada, bo, first := twoPhones()
	before := fold(first)
	b := bo.save(1, op.Set("cause", `"car"`, before.Saw("cause", bo.dev)...)) // saw ada's first
	again := ada.save(0, op.Set("cause", `"cat"`))                            // ada, who never heard of bo
	if got := shownValues(fold(first, b, again).Field("cause").Values); !slices.Equal(got, []op.Value{`"car"`, `"cat"`}) {
		t.Errorf("got %v, want both: bo saw ada's first value, not her second", got)
	}
}

func TestEqualValuesNeverDiffer(t *testing.T) {
	ada, bo, first := twoPhones()
	s := fold(first, bo.save(0, op.Set("cause", `"window"`)), ada.save(0, op.Set("taxon", `{"name":"Larus"}`)), bo.save(0, op.Set("taxon", `{"name":"Larus"}`)))
	if len(s.Differing()) != 0 {
		t.Errorf("got %v to review, want nothing", s.Differing())
	}
	if f := s.Field("cause"); len(f.Values) != 1 || len(f.Values[0].By) != 2 {
		t.Errorf("got %+v, want one value with two hands", f)
	}
}

func TestOnceShowsTheFirstReceived(t *testing.T) {
	ada, bo, _ := twoPhones()
	a, b := ada.save(0, op.Set("fieldno", `"A-1"`)), bo.save(0, op.Set("fieldno", `"B-1"`))
	s := New(theID, kind)
	s.Apply(a, Receipt{}) // earlier stamp, not received yet
	s.Apply(b, Receipt{LSN: 9, Eff: b.HLC})
	if got := s.Value("fieldno"); got != `"B-1"` {
		t.Errorf("got %s, want the one that a server has", got)
	}
	s.Apply(a, Receipt{LSN: 4, Eff: a.HLC})
	f := s.Field("fieldno")
	if f.Shown() != `"A-1"` || len(f.Values) != 2 || f.Differs() {
		t.Errorf("got %+v, want the first received shown, the later kept, nothing to review", f)
	}
}

func TestLastWriterTakesTheEffectiveStamp(t *testing.T) {
	s := New(theID, record.Animal)
	ada, bo := &teller{dev: op.DeviceID{1}, ms: 9_000_000}, &teller{dev: op.DeviceID{2}, ms: 1000}
	a, b := ada.save(0, op.Set("freezer", `"F1"`)), bo.save(0, op.Set("freezer", `"F2"`))
	a.On[0].Kind, b.On[0].Kind = "animal", "animal"
	s.Apply(a, Receipt{LSN: 1, Eff: clock.Stamp{Millis: 1500}}) // a fast clock, held at receipt
	s.Apply(b, Receipt{LSN: 2, Eff: b.HLC})
	if f := s.Field("freezer"); f.Shown() != `"F2"` || len(f.Values) != 1 || f.Differs() {
		t.Errorf("got %+v, want F2 alone", f)
	}
}

func TestAddWinsOverAConcurrentRemove(t *testing.T) {
	ada, bo, _ := twoPhones()
	add := ada.save(0, op.Add("photos", `"p1"`))
	rem := bo.save(1, op.Remove("photos", fold(add).Field("photos").Elements[0].Dots()...))
	again := ada.save(0, op.Add("photos", `"p1"`))
	for name, s := range map[string]State{"in order": fold(add, rem, again), "backwards": fold(again, rem, add)} {
		if e := s.Field("photos").Elements; len(e) != 1 || e[0].By[0].Dot != again.Dot(0) {
			t.Errorf("%s: got %+v, want the photo added again", name, e)
		}
	}
	if e := fold(rem, add).Field("photos").Elements; len(e) != 0 {
		t.Errorf("got %+v, want nothing: what was seen and removed stays removed", e)
	}
}

func TestWithdrawal(t *testing.T) {
	ada, bo, first := twoPhones()
	late := bo.save(1, op.Set("cause", `"car"`))                              // lsn 2
	w := ada.save(1, op.Event(Withdrawn, `{"reason":"double"}`))              // lsn 3, had seen 1
	again := ada.save(3, op.Event(Withdrawn, `{"reason":"double, checked"}`)) // lsn 4, had seen 3
	back := bo.save(4, op.Event(Restored, `{}`))                              // lsn 5, had seen 4
	for _, c := range []struct {
		name string
		s    State
		want Standing
	}{
		{"a record nobody withdrew is present", fold(first, late), Present},
		{"withdrawn by somebody who saw everything it is hidden", fold(first, ada.save(1, op.Event(Withdrawn, "{}"))), Hidden},
		{"a change the withdrawer had not seen puts it in review", fold(first, late, w), Review},
		{"withdrawn again by somebody who saw the change it is hidden", fold(first, late, w, again), Hidden},
		{"restored by somebody who knew it is present", fold(first, late, w, again, back), Present},
		{"a restoring that did not know of it leaves it in review", fold(first, late, w, again, bo.save(0, op.Event(Restored, "{}"))), Review},
	} {
		if got, unseen := c.s.Standing(); got != c.want || (got == Review) != (len(unseen) > 0) {
			t.Errorf("%s: got %v with %d unseen changes, want %v", c.name, got, len(unseen), c.want)
		}
		if c.s.Value("cause") == "" {
			t.Errorf("%s: a value was destroyed", c.name)
		}
	}
	own := fold(first)
	own.Apply(late, Receipt{}) // on the phone that made it, before the server has it
	own.Apply(w, Receipt{LSN: 2, Eff: w.HLC})
	if got, _ := own.Standing(); got != Review {
		t.Errorf("a change that no server has yet: got %v, want %v", got, Review)
	}
	_, unseen := fold(first, late, w).Standing()
	if len(unseen) != 1 || unseen[0].Dot.Dev != bo.dev {
		t.Errorf("got %+v unseen, want bo's change", unseen)
	}
}

func TestUnknownFieldsAndActsDoNoHarm(t *testing.T) {
	ada, bo, first := twoPhones()
	odd := bo.save(0, op.Set("mood", `"x"`), op.Act{Kind: "spend", Extra: []op.Member{{Name: "n", Value: "1"}}}, op.Add("mood", "1"), op.Event("mood", "2"))
	s := fold(first, odd, ada.save(0, op.Set("mood", `"y"`)))
	f := s.Field("mood")
	if f.Differs() || len(f.Values) != 2 || len(f.Elements) != 1 || len(f.Events) != 1 {
		t.Errorf("got %+v, want everything kept and nothing flagged", f)
	}
}

func TestDecodeRefusesWhatAppendDoesNotWrite(t *testing.T) {
	_, bo, first := twoPhones()
	good := fold(first, bo.save(0, op.Set("cause", `"x"`))).Append(nil)
	if _, err := Decode(good); err != nil {
		t.Fatal(err)
	}
	for cut := range good {
		if _, err := Decode(good[:cut]); err == nil {
			t.Errorf("cut after %d of %d bytes it is read", cut, len(good))
		}
	}
	if _, err := Decode(append(good, 0)); err == nil {
		t.Error("with a byte too many it is read")
	}
	later := slices.Clone(good)
	later[0] = 2
	if _, err := Decode(later); err == nil {
		t.Error("a later format is read")
	}
}

func FuzzDecode(f *testing.F) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 8 {
		f.Add(drawHistory(rng, 9).inOrder().Append(nil))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Decode(b)
		if err != nil {
			return
		}
		if again := s.Append(nil); !slices.Equal(again, b) {
			t.Errorf("two spellings of one state:\n%q\n%q", b, again)
		}
		s.Standing()
		s.Fields()
		Join(s, s)
	})
}

func BenchmarkApplyNewRecord(b *testing.B) {
	_, _, first := twoPhones()
	for i := range 18 {
		first.On[0].Acts = append(first.On[0].Acts, op.Set(fmt.Sprint("field", i), `"some value of a few words"`))
	}
	var buf []byte
	for b.Loop() {
		s := New(theID, kind)
		s.Apply(first, Receipt{LSN: 1, Eff: first.HLC})
		buf = s.Append(buf[:0])
	}
	b.ReportMetric(float64(len(buf)), "state-B")
}

func ExampleState_Differing() {
	ada, bo := op.DeviceID{1}, op.DeviceID{2}
	save := func(dev op.DeviceID, cause op.Value) op.Op {
		return op.Op{Dev: dev, Seq: 1, HLC: clock.Stamp{Millis: int64(dev[0])}, On: []op.Group{
			{ID: op.ID{9}, Kind: "report", Acts: []op.Act{op.Set("cause", cause)}}}}
	}
	s := New(op.ID{9}, record.Report)
	s.Apply(save(ada, `"cat"`), Receipt{})
	s.Apply(save(bo, `"car"`), Receipt{})
	for _, f := range s.Differing() {
		fmt.Println(f.Name, f.Values[0].JSON, f.Values[1].JSON)
	}
	// Output: cause "car" "cat"
}

const oldStates, oldOps = "../../fixtures/old/state-v1.jsonl", "../../fixtures/old/op-v1.jsonl"

// foldOld folds every record of the old operations, received in their order.
func foldOld(t *testing.T) []State {
	t.Helper()
	f, err := os.ReadFile(oldOps)
	if err != nil {
		t.Fatal(err)
	}
	var all []State
	var ops []op.Op
	for line := range bytes.Lines(f) {
		o, err := op.Decode(bytes.TrimSuffix(line, []byte("\n")))
		if err != nil {
			t.Fatal(err)
		}
		ops = append(ops, o)
		for _, g := range o.On {
			if !slices.ContainsFunc(all, func(s State) bool { return s.ID == g.ID }) {
				all = append(all, New(g.ID, record.Kind(g.Kind)))
			}
		}
	}
	for i := range all {
		for n, o := range ops {
			all[i].Apply(o, Receipt{LSN: uint64(n + 1), Eff: o.HLC})
		}
	}
	return all
}

func TestStatesOfTheFirstReleaseStillOpenAndStillFoldAlike(t *testing.T) {
	f, err := os.ReadFile(oldStates)
	if err != nil {
		t.Fatal(err)
	}
	today, n := foldOld(t), 0
	for line := range bytes.Lines(f) {
		var old struct {
			ID    op.ID
			State []byte
		}
		if err := json.Unmarshal(line, &old); err != nil {
			t.Fatal(err)
		}
		s, err := Decode(old.State)
		if err != nil || s.ID != old.ID {
			t.Errorf("line %d: %v", n+1, err)
			continue
		}
		if s.Digest() != today[n].Digest() {
			t.Errorf("record %v folds otherwise today; raise Version:\n got %+v\nwant %+v", s.ID, today[n].Fields(), s.Fields())
		}
		n++
	}
	if n != len(today) || n < 7 {
		t.Errorf("got %d states, want %d and at least 7", n, len(today))
	}
}
