package reports_test

import (
	"fmt"
	"strings"

	"wayfall/server/reports"
)

// A year in which nothing was taken still says so.
func ExampleYear_CSV() {
	y := reports.Year{Year: 2025, AsOf: reports.Stamp{LSN: 12}}
	lines := strings.Split(string(y.CSV()), "\r\n")
	fmt.Println(lines[0])
	fmt.Println(lines[1])
	// Output:
	// row,species,scientific name,material,state,county,month,number,note
	// total,,,,,,,0,no activity
}
