package catalogue

import (
	"fmt"
	"strconv"
	"strings"

	"wayfall/permits"
	"wayfall/permits/duties"
)

// Heap is open duties that are the same but for their animal: one letter or
// one sitting settles them all.
type Heap struct {
	duties.Heap
	Text string
	All  []Duty
}

// Heaps gathers the duties that are open at the moment, those that enter
// themselves left out.
func Heaps(all []Duty, now permits.Moment) []Heap {
	var list []duties.Duty
	for i, d := range all {
		if d.Done || d.Void != "" || strings.HasSuffix(d.Code, "_LINE") {
			continue
		}
		one := duties.Duty{Obligation: permits.Obligation{Code: d.Code, To: d.Text, Rule: permits.RuleID(d.Cites), Severity: d.Severity}, Subject: fmt.Sprintf("%09d", i), Person: d.Who, Own: d.Own}
		if by, err := permits.ParseMoment(d.Due); err == nil {
			one.By = by
		}
		one.Due = permits.Due{At: one.By, Word: d.Word}
		list = append(list, one)
	}
	var out []Heap
	for _, h := range duties.Group(list, now) {
		heap := Heap{Heap: h, Text: h.To}
		for i := range h.Duties {
			if at, err := strconv.Atoi(h.Duties[i].Subject); err == nil {
				heap.All = append(heap.All, all[at])
			}
		}
		out = append(out, heap)
	}
	return out
}
