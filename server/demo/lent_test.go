package demo_test

import "testing"

// The demo shows the loons beyond the number by the ledger of shares too: what
// three phones took on their shares, what was entered without one, and what is
// over.
func TestTheLoonsOfTheDemoAreOverByShareToo(t *testing.T) {
	m := pourLive(t)
	l := &lenders{museum: m, t: t}
	n := l.loons()
	t.Logf("SHOW loons by share: %d of a number of %d; %d spent in %d shares, %d entered without one, %d over, %d still out", n.Spent+n.Entered, n.Limit, n.Spent, len(n.Shares), n.Entered, n.Over, n.Lent)
	if n.Limit != 12 || n.Spent == 0 || n.Spent+n.Entered != 12 || n.Over != 3 || n.Lent != 0 || len(n.Alarms) > 0 {
		t.Errorf("got %+v, want 12 of 12 spent or entered, some of them spent, 3 over, none out and no alarm", n)
	}
	for _, s := range n.Shares {
		if s.Spent > 4 || s.Spent == 0 {
			t.Errorf("a share was spent %d times, want 1 to 4", s.Spent)
		}
	}
}
