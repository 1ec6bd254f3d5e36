package demo_test

import (
	"testing"
	"time"
)

// TestARestartAddsNothing opens the poured store again, as a second run of the
// demo does: what was judged stays judged.
func TestARestartAddsNothing(t *testing.T) {
	m := pourLive(t)
	m.review(t)
	before := m.head(t)
	again := m.reopen(t, time.Now)
	again.review(t)
	if after := again.head(t); after != before {
		t.Errorf("got %d entries in the log after a restart, want the %d there were", after, before)
	}
}

func (m *museum) head(t *testing.T) (lsn uint64) {
	t.Helper()
	var got struct{ LSN uint64 }
	m.get(t, "/v1/reports?limit=1", &got)
	return got.LSN
}
