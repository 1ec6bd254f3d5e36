package view_test

import (
	"fmt"
	"testing"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

func save(dev byte, seq uint64, actor string, acts ...op.Act) op.Op {
	return op.Op{Dev: op.DeviceID{dev}, Seq: seq, Actor: actor, Scope: "museum", Schema: 1,
		HLC:  clock.Stamp{Millis: 1_760_000_000_000 + int64(seq)},
		Wall: op.Wall{Millis: 1_760_000_000_000, Zone: "-04:00", Source: "device"},
		On:   []op.Group{{ID: op.ID{1}, Kind: "report", Acts: acts}}}
}

func fold(ops ...op.Op) merge.State {
	s := merge.New(op.ID{1}, record.Report)
	for _, o := range ops {
		s.Apply(o, merge.Receipt{})
	}
	return s
}

func Example() {
	s := fold(save(1, 1, "bea", op.Set("band", op.Text("0998-00417")), op.Event("remarks", `{"text":"wet"}`)))
	r := view.ReportOf(s)
	fmt.Println(r.Band.Shown, "said by", r.Band.All[0].Actor)
	fmt.Println(r.Remarks[0].Value.Text)
	// Output:
	// 0998-00417 said by bea
	// wet
}

func TestTwoHandsThatDifferAreBothRead(t *testing.T) {
	r := view.ReportOf(fold(
		save(1, 1, "bea", op.Set("cause", `{"cause":"vehicle"}`)),
		save(2, 2, "tom", op.Set("cause", `{"cause":"window"}`)),
	))
	if !r.Cause.Differs || len(r.Cause.All) != 2 {
		t.Fatalf("got %+v, want two values that differ", r.Cause)
	}
	if r.Cause.Shown.Cause != "window" || len(r.Cause.Dots()) != 2 {
		t.Errorf("got %q with %d dots, want the newest, window, with 2", r.Cause.Shown.Cause, len(r.Cause.Dots()))
	}
}

func TestAValueOfTheWrongFormIsKeptAndSaid(t *testing.T) {
	r := view.ReportOf(fold(save(1, 1, "bea", op.Set("count", `"three"`))))
	if r.Count.Known || len(r.Count.All) != 1 || !r.Count.All[0].Ill || r.Count.All[0].Raw != `"three"` {
		t.Errorf("got %+v, want an ill-formed value kept as it came", r.Count)
	}
}

func TestAWhenWithoutAZoneTakesTheOneGiven(t *testing.T) {
	zone := time.FixedZone("", -5*3600)
	early, late, ok := view.When(record.When{Earliest: "2025-10-18T00:00", Latest: "2025-10-18T23:59"}, zone)
	if !ok || late.Sub(early) != 23*time.Hour+59*time.Minute || early.UTC().Hour() != 5 {
		t.Errorf("got %v to %v, %v; want the whole day at -05:00", early, late, ok)
	}
	if _, _, ok := view.When(record.When{Text: "last autumn"}, zone); ok {
		t.Error("words alone were read as a time")
	}
}
