package screen_test

import (
	"encoding/json"
	"fmt"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

func ExampleCheck() {
	var loaded []*rules.Pack
	for _, f := range packs.Rules() {
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			fmt.Println(err)
			return
		}
		loaded = append(loaded, p)
	}
	book, err := rules.NewBook(loaded...)
	if err != nil {
		fmt.Println(err)
		return
	}
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		fmt.Println(err)
		return
	}
	w := &screen.World{Book: book, Register: rules.NewRegister(book, nil), Checklist: list, Tally: quota.Fixed{}}

	var f screen.Facts
	err = json.Unmarshal([]byte(`{"taxon":"Bald Eagle","identified":true,"jurisdictions":["US-MI"],
		"activity":"salvage","found":"2025-10-04T07:40","possessed":"2025-10-04T07:40"}`), &f)
	if err != nil {
		fmt.Println(err)
		return
	}
	v := screen.Check(&f, w)
	fmt.Println(v.Outcome, v.Act, v.Deciding.Rule)
	fmt.Println(v.Deciding.Cites)
	// Output:
	// hold_call_first leave R-EAGLE
	// 50 CFR 21.2(b), part 22 (22.50); 448 FW 2; 720 FW 6
}
