package escrow_test

import (
	"fmt"

	"wayfall/permits/escrow"
)

// A permit for 12 loons; one phone goes out without signal for a week.
func ExampleLedger() {
	l := escrow.Fold([]escrow.Event{{Kind: escrow.Limited, Limit: 12, Reserve: 1}})
	share, _ := l.Lend("beas phone", "g1", 4)
	l.Apply(&share)
	l.Apply(&escrow.Event{Kind: escrow.Spent, Device: "beas phone", Grant: "g1", Serial: 1, Op: "a save"})
	s := l.Sums()
	fmt.Println(s.Free, "free,", s.Reserve, "in reserve,", s.Lent, "lent,", s.Spent, "spent")
	// Output: 7 free, 1 in reserve, 3 lent, 1 spent
}
