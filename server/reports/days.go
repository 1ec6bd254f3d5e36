package reports

import (
	"wayfall/permits"
)

func month(d permits.Date) string {
	if !d.Known() {
		return ""
	}
	return d.String()[:7]
}
