package oplog_test

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
)

func now() time.Time { return time.UnixMilli(1_777_900_000_000) }

func TestMemoryKeepsTheLogsPromises(t *testing.T) {
	oplogtest.Run(t, func(_ *testing.T, judge oplog.Judge) oplog.Log { return oplog.NewMemory(now, judge) })
}

func TestReceiptOnTheWire(t *testing.T) {
	r := oplog.Receipt{Dev: op.DeviceID{1}, Seq: 2, LSN: 3, Received: 4, Eff: clock.Stamp{Millis: 5, Counter: 6}, Effect: oplog.Review, Code: "c", Why: "w"}
	b, err := json.Marshal(r)
	want := `{"dev":"AQAAAAAAAAAAAAAAAAAAAA","seq":2,"lsn":3,"received_ms":4,"eff":"5.6","effect":"review","code":"c","why":"w"}`
	if err != nil || string(b) != want {
		t.Errorf("\n got %s (%v)\nwant %s", b, err, want)
	}
	var back oplog.Receipt
	if err := json.Unmarshal(b, &back); err != nil || back != r {
		t.Errorf("got %+v (%v) back, want %+v", back, err, r)
	}
	if json.Unmarshal([]byte(`{"effect":"maybe"}`), &back) == nil {
		t.Error("an effect nobody knows is read")
	}
}

func ExampleMemory_Append() {
	log := oplog.NewMemory(now, nil)
	dev := op.DeviceID{1}
	o := op.Op{Dev: dev, Seq: 1, HLC: clock.Stamp{Millis: 1}, Actor: "ada", Scope: "harbour", Schema: 1,
		On: []op.Group{{ID: op.ID{9}, Kind: "report", Acts: []op.Act{op.Set("count", "3")}}}}
	wire, _ := o.Encode()
	before := op.Genesis(dev)
	batch := oplog.Batch{Dev: dev, First: 1, Before: before, After: op.Next(before, wire), Ops: [][]byte{wire}}
	for range 2 { // the answer to the first push was lost
		receipts, err := log.Append(context.Background(), batch)
		fmt.Println(receipts[0].LSN, receipts[0].Effect, err)
	}
	// Output:
	// 1 ok <nil>
	// 1 ok <nil>
}
