package permits

// Calendar says which days are working days. The zero Calendar has Saturday
// and Sunday off and knows no holidays.
type Calendar struct {
	Holidays []Date `json:"holidays,omitempty"`
}

// Working tells whether the day is a working day.
func (c *Calendar) Working(d Date) bool {
	if w := d.Weekday(); w == 0 || w == 6 {
		return false
	}
	if c == nil {
		return true
	}
	for _, h := range c.Holidays {
		if h == d {
			return false
		}
	}
	return true
}

// AddWorkingDays returns the n-th working day after d.
func (c *Calendar) AddWorkingDays(d Date, n int) Date {
	if d == 0 {
		return 0
	}
	for n > 0 {
		d = d.AddDays(1)
		if c.Working(d) {
			n--
		}
	}
	return d
}

// DueRule says when a duty falls due, counted from an anchor. Exactly one of
// its clocks is set. Units are kept apart on purpose: 48 hours are not two
// business days.
type DueRule struct {
	Months       int       `json:"months,omitempty"`
	Days         int       `json:"days,omitempty"`
	BusinessDays int       `json:"business_days,omitempty"`
	Hours        int       `json:"hours,omitempty"`
	MonthDay     MonthDay  `json:"month_day,omitempty"` // in the anchor's year, or Year years later
	Year         int       `json:"year,omitempty"`
	SameDay      bool      `json:"same_day,omitempty"`
	Word         string    `json:"word,omitempty"`      // immediately, promptly: the law gives no number
	Authority    string    `json:"authority,omitempty"` // deposit or report: as the permit itself says
	Min          []DueRule `json:"min,omitempty"`       // the earliest of these
	Else         *DueRule  `json:"else,omitempty"`      // where the permit itself says nothing
	Anchor       string    `json:"anchor,omitempty"`    // possessed (default), found, expiry or judged
}

// Clocks returns how many clocks are set; a rule that can be read has one.
func (r *DueRule) Clocks() int {
	n := 0
	for _, set := range [...]bool{r.Months != 0, r.Days != 0, r.BusinessDays != 0, r.Hours != 0, r.MonthDay != 0,
		r.SameDay, r.Word != "", r.Authority != "", len(r.Min) > 0} {
		if set {
			n++
		}
	}
	return n
}

// From returns the due time counted from the anchor, and which branch of a Min
// gave it (0 if there is none). A permit's own rule is not looked up here.
func (r *DueRule) From(anchor Moment, cal *Calendar) (Due, int) {
	if r.Word != "" {
		return Due{Word: r.Word}, 0
	}
	if !anchor.Known() {
		return Due{}, 0
	}
	day := func(d Date) Due { return Due{At: Moment{Date: d}} }
	switch {
	case r.SameDay:
		return Due{At: Moment{Date: anchor.Date}, Word: "same day"}, 0
	case r.Months != 0:
		return day(anchor.Date.AddMonths(r.Months)), 0
	case r.Days != 0:
		return day(anchor.Date.AddDays(r.Days)), 0
	case r.BusinessDays != 0:
		return day(cal.AddWorkingDays(anchor.Date, r.BusinessDays)), 0
	case r.Hours != 0:
		return Due{At: anchor.AddHours(r.Hours)}, 0
	case r.MonthDay != 0:
		return day(r.MonthDay.In(anchor.Date.Year() + r.Year)), 0
	}
	return r.earliest(anchor, cal)
}

func (r *DueRule) earliest(anchor Moment, cal *Calendar) (Due, int) {
	var best Due
	branch := 0
	for i := range r.Min {
		due, _ := r.Min[i].From(anchor, cal)
		if due.At.Known() && (!best.At.Known() || due.At.Before(best.At)) {
			best, branch = due, i
		}
	}
	return best, branch
}
