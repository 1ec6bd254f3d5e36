package catalogue_test

import (
	"fmt"

	"wayfall/server/catalogue"
	"wayfall/sync/record"
)

// Two bags are on the table and two lines on the list; one of each has no
// partner.
func ExampleReconcile() {
	list := []catalogue.Line{{N: 1, Bag: record.Bag{Tag: "K7Q-204-1"}}, {N: 2, Bag: record.Bag{Tag: "K7Q-205-0"}}}
	table := []catalogue.Bag{{N: 1, Bag: record.Bag{Tag: "k7q 204 1"}}, {N: 2, Bag: record.Bag{Written: "gull, no tag"}}}
	nobody := func(string) []catalogue.Owner { return nil }

	t := catalogue.Reconcile(list, table, nobody)
	fmt.Println("both:", t.Matched[0].Line.Tag)
	fmt.Println("table only:", t.BagOnly[0].Bag.Written)
	fmt.Println("list only:", t.LineOnly[0].Line.Tag)
	// Output:
	// both: K7Q-204-1
	// table only: gull, no tag
	// list only: K7Q-205-0
}
