package permits

// Bar says that a person may not use permits, from one day to another, both
// included; unknown: no bound. In the United States a felony conviction under
// the Lacey, migratory bird or eagle acts disqualifies, unless it is waived
// (50 CFR 13.21(c)(1)).
type Bar struct {
	Person string `json:"person"`
	From   Date   `json:"from,omitempty"`
	To     Date   `json:"to,omitempty"`
}

// BarredAt tells whether one of the bars holds for the person on every day of
// the stretch: Unknown where it does on some of them only. Without a day any
// bar counts.
func BarredAt(bars []Bar, person string, at When) Answer {
	out := No
	for i := range bars {
		b := &bars[i]
		switch {
		case person == "" || b.Person != person:
		case !at.Known() || b.From <= at.From.Date && (!b.To.Known() || at.To.Date <= b.To):
			return Yes
		case b.From <= at.To.Date && (!b.To.Known() || at.From.Date <= b.To):
			out = Unknown
		}
	}
	return out
}
