package intake_test

import (
	"fmt"
	"time"

	"wayfall/server/intake"
	"wayfall/sync/record"
)

func ExampleFollow() {
	found := record.When{Earliest: "2025-04-10T00:00", Latest: "2025-04-10T23:59", Precision: record.ToDay}
	for _, d := range intake.Follow(intake.Dates{Found: found, Reported: time.Date(2025, 10, 5, 14, 0, 0, 0, time.UTC)}) {
		fmt.Println(d.Why)
	}
	// Output: found on 10 Apr 2025 would be 178 days before it was reported on 5 Oct 2025; with day and month exchanged, 4 Oct 2025, it fits
}
