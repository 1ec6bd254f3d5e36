package printed

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"wayfall/server/reports"
)

// CSV returns the lines of the year in the columns of the set, after RFC 4180.
func CSV(y reports.Year, set Set) []byte {
	kinds, rows := set.rowsOf(y)
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	var head []string
	for _, c := range set.Columns {
		head = append(head, harmless(c.Heading))
	}
	// A bytes.Buffer never fails to be written to.
	_ = w.Write(head)
	for _, r := range rows {
		line := make([]string, len(r))
		for i, c := range r {
			line[i] = c.written(kinds[i])
		}
		_ = w.Write(line)
	}
	w.Flush()
	return out.Bytes()
}

func (c cell) written(k kind) string {
	switch k {
	case count:
		return strconv.Itoa(c.n)
	case dateKind:
		if !c.day.Known() {
			return ""
		}
		return c.day.String()
	}
	return harmless(c.text)
}

// harmless keeps a spreadsheet from taking somebody's text for a formula.
func harmless(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}
