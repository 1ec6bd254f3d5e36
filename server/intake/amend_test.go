package intake_test

import (
	"context"
	"testing"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// shelf is a writer that keeps what it was asked to write.
type shelf struct {
	intake.Writer
	state merge.State
	seq   uint64
}

func (s *shelf) WriteIf(_ context.Context, by intake.Hand, decide func(intake.Read) ([]op.Group, error)) error {
	groups, err := decide(func(op.ID) (merge.State, error) { return s.state, nil })
	if err != nil || len(groups) == 0 {
		return err
	}
	s.seq++
	if s.state.ID == (op.ID{}) {
		s.state = merge.New(groups[0].ID, record.Authority)
	}
	s.state.Apply(op.Op{Dev: op.DeviceID{9}, Seq: s.seq, Actor: by.Person, On: groups}, merge.Receipt{LSN: s.seq})
	return nil
}

func TestAScanIsLinkedOnceAndOnlyToAPaperThatIsThere(t *testing.T) {
	s := &shelf{}
	in := intake.Open(intake.Needs{Writer: s})
	p := record.Photo{SHA256: "aa", Size: 3, Type: "image/png"}
	if err := in.AddScan(t.Context(), intake.Hand{Person: "p"}, "SC-1", p); !fault.Is(err, fault.Missing) {
		t.Errorf("a scan of no paper: got %v, want a fault of kind missing", err)
	}
	s.state = merge.New(intake.AuthorityID("SC-1"), record.Authority)
	doc, err := op.ValueOf(permits.Authority{ID: "SC-1"})
	if err != nil {
		t.Fatal(err)
	}
	s.state.Apply(op.Op{Dev: op.DeviceID{9}, Seq: 1, On: []op.Group{{ID: s.state.ID, Kind: "authority", Acts: []op.Act{op.Set("document", doc)}}}}, merge.Receipt{LSN: 1})
	s.seq = 1
	for range 2 {
		if err := in.AddScan(t.Context(), intake.Hand{Person: "p"}, "SC-1", p); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(s.state.Field("scans").Elements); n != 1 || s.seq != 2 {
		t.Errorf("linked twice: got %d scans and %d saves, want 1 and 2", n, s.seq)
	}
}
