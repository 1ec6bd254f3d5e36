package permits

// Calendar says which days are working days, and how the clock runs. The zero
// Calendar has Saturday and Sunday off, knows no holidays and never changes the
// clock. Days after Until are counted as if they were no holidays, so that no
// duty is shown later than it may be.
type Calendar struct {
	Weekend  []string `json:"weekend,omitempty"` // days off in every week; none: saturday and sunday
	Holidays []Date   `json:"holidays,omitempty"`
	Source   string   `json:"source,omitempty"` // the law or list the holidays are from
	AsOf     Date     `json:"as_of,omitempty"`  // when the list was made
	Until    Date     `json:"until,omitempty"`  // the last day for which the list is held to be whole
	Zone     *Zone    `json:"zone,omitempty"`   // none: hours are counted without a change of the clock
}

var weekdays = [...]string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

// Working tells whether the day is a working day.
func (c *Calendar) Working(d Date) bool {
	w := d.Weekday()
	if c == nil || len(c.Weekend) == 0 {
		if w == 0 || w == 6 {
			return false
		}
	} else if contains(c.Weekend, weekdays[w]) {
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

// AddHours returns the local moment h hours later, with the clock put on or
// back between the two.
func (c *Calendar) AddHours(m Moment, h int) Moment {
	if c == nil {
		return m.AddHours(h)
	}
	return c.Zone.AddHours(m, h)
}

// Faults says what is wrong with a calendar, each with the path of the member.
func (c *Calendar) Faults() []Wrong {
	var out []Wrong
	seen := map[string]bool{}
	for _, w := range c.Weekend {
		if !contains(weekdays[:], w) || seen[w] {
			out = append(out, Wrong{"weekend", "the days of a weekend are written as saturday and sunday, each once"})
			break
		}
		seen[w] = true
	}
	if len(seen) > 5 {
		out = append(out, Wrong{"weekend", "a week has at least two working days"})
	}
	if len(c.Holidays) > 0 && c.Source == "" {
		out = append(out, Wrong{"source", "say from which law or list the holidays are"})
	}
	for i, h := range c.Holidays {
		if !h.Known() || c.Until.Known() && h > c.Until {
			out = append(out, Wrong{"holidays", "a holiday lies after the last day of the list, or is no day"})
			break
		}
		if i > 0 && listed(c.Holidays[:i], h) {
			out = append(out, Wrong{"holidays", "a day stands twice: " + h.Long()})
			break
		}
	}
	if c.Zone != nil {
		out = append(out, c.Zone.faults()...)
	}
	return out
}

func listed(list []Date, d Date) bool {
	for _, l := range list {
		if l == d {
			return true
		}
	}
	return false
}

// Wrong is one thing that is wrong, the path of the member and a sentence.
type Wrong struct{ Path, What string }

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
	Years        int       `json:"years,omitempty"`
	Months       int       `json:"months,omitempty"`
	Days         int       `json:"days,omitempty"`
	DaysBefore   int       `json:"days_before,omitempty"` // before the anchor: a renewal is filed 30 days before the end
	BusinessDays int       `json:"business_days,omitempty"`
	Hours        int       `json:"hours,omitempty"`
	MonthDay     MonthDay  `json:"month_day,omitempty"` // in the anchor's year, or Year years later
	Year         int       `json:"year,omitempty"`
	SameDay      bool      `json:"same_day,omitempty"`
	Word         string    `json:"word,omitempty"`      // immediately, promptly: the law gives no number
	Authority    string    `json:"authority,omitempty"` // deposit or report: as the permit itself says
	Min          []DueRule `json:"min,omitempty"`       // the earliest of these
	Max          []DueRule `json:"max,omitempty"`       // the latest of these
	Else         *DueRule  `json:"else,omitempty"`      // where the permit itself says nothing
	Anchor       string    `json:"anchor,omitempty"`    // a word of Anchors; none: possessed
}

// Anchors are the moments from which a duty may be counted.
var Anchors = []string{"possessed", "found", "judged", "expiry", "year_end", "transfer", "registration"}

// Clocks returns how many clocks are set; a rule that can be read has one.
func (r *DueRule) Clocks() int {
	n := 0
	for _, set := range [...]bool{r.Years != 0, r.Months != 0, r.Days != 0, r.DaysBefore != 0, r.BusinessDays != 0,
		r.Hours != 0, r.MonthDay != 0, r.SameDay, r.Word != "", r.Authority != "", len(r.Min) > 0, len(r.Max) > 0} {
		if set {
			n++
		}
	}
	return n
}

// Negative tells whether a number in the rule is below zero.
func (r *DueRule) Negative() bool {
	return r.Years < 0 || r.Months < 0 || r.Days < 0 || r.DaysBefore < 0 || r.BusinessDays < 0 || r.Hours < 0 || r.Year < 0
}

// From returns the due time counted from one anchor, whatever the rule names,
// and which branch of a Min or Max gave it (0 if there is none). A permit's own
// rule is not looked up here.
func (r *DueRule) From(anchor Moment, cal *Calendar) (Due, int) {
	return r.Count(func(string) Moment { return anchor }, cal)
}

// Count returns the due time, each part of it counted from the anchor that it
// names, and which branch of a Min or Max gave it. at gives the moment of an
// anchor by its word, "" for the usual one.
func (r *DueRule) Count(at func(anchor string) Moment, cal *Calendar) (Due, int) {
	if r.Word != "" {
		return Due{Word: r.Word}, 0
	}
	if len(r.Min) > 0 || len(r.Max) > 0 {
		return r.branch(at, cal)
	}
	anchor := at(r.Anchor)
	if !anchor.Known() {
		return Due{}, 0
	}
	day := func(d Date) Due { return Due{At: Moment{Date: d}} }
	switch {
	case r.SameDay:
		return Due{At: Moment{Date: anchor.Date}, Word: "same day"}, 0
	case r.Years != 0:
		return day(anchor.Date.AddMonths(12 * r.Years)), 0
	case r.Months != 0:
		return day(anchor.Date.AddMonths(r.Months)), 0
	case r.Days != 0:
		return day(anchor.Date.AddDays(r.Days)), 0
	case r.DaysBefore != 0:
		return day(anchor.Date.AddDays(-r.DaysBefore)), 0
	case r.BusinessDays != 0:
		return day(cal.AddWorkingDays(anchor.Date, r.BusinessDays)), 0
	case r.Hours != 0:
		return Due{At: cal.AddHours(anchor, r.Hours)}, 0
	case r.MonthDay != 0:
		return day(r.MonthDay.In(anchor.Date.Year() + r.Year)), 0
	}
	return Due{}, 0
}

// branch returns the earliest or the latest of the branches. A branch without
// an anchor of its own is counted from that of the whole. Where the time of one
// cannot be told, the others decide.
func (r *DueRule) branch(at func(string) Moment, cal *Calendar) (Due, int) {
	from := func(anchor string) Moment {
		if anchor == "" {
			anchor = r.Anchor
		}
		return at(anchor)
	}
	list, latest := r.Min, false
	if len(list) == 0 {
		list, latest = r.Max, true
	}
	var best Due
	branch := 0
	for i := range list {
		due, _ := list[i].Count(from, cal)
		if due.At.Known() && (!best.At.Known() || earlier(due.At, best.At) != latest) {
			best, branch = due, i
		}
	}
	return best, branch
}

// earlier tells which of two due times comes first. A due day lasts until its
// end, so an hour of the same day is before it.
func earlier(a, b Moment) bool {
	if a.Date != b.Date {
		return a.Date < b.Date
	}
	return a.Timed() && (!b.Timed() || a.Before(b))
}
