package permits

// Zone says when a place puts its clock on and back. Only the difference
// counts: a duty that runs for hours over a change is counted in true hours.
// The zero Zone never changes its clock.
type Zone struct {
	Name   string  `json:"name"` // as the time zone database has it
	Summer *Summer `json:"summer,omitempty"`
}

// Summer is summer time as the law of a place sets it now.
type Summer struct {
	Ahead  int    `json:"ahead"` // minutes by which the clock is put on
	Begins Turn   `json:"begins"`
	Ends   Turn   `json:"ends"`
	Source string `json:"source"` // the law that sets it
}

// Turn is when the clock is changed in every year: at an hour of the first,
// second, third, fourth or (5) last Sunday of a month, by the clock that runs
// until then.
type Turn struct {
	Month int `json:"month"`
	Week  int `json:"week"`
	Hour  int `json:"hour"`
}

// sunday returns the day of the turn in a year.
func (t *Turn) sunday(year int) Date {
	if t.Week == 5 {
		last := NewDate(year, t.Month, monthDays(year, t.Month))
		return last.AddDays(-last.Weekday())
	}
	first := NewDate(year, t.Month, 1)
	return first.AddDays((7-first.Weekday())%7 + 7*(t.Week-1))
}

const day = 24 * 60 // minutes

// in tells whether summer time runs at a minute of the standard clock.
func (s *Summer) in(standard int) bool {
	year := fromOrdinal(standard / day).Year()
	begins := s.Begins.sunday(year).ordinal()*day + s.Begins.Hour*60
	ends := s.Ends.sunday(year).ordinal()*day + s.Ends.Hour*60 - s.Ahead
	if begins < ends {
		return begins <= standard && standard < ends
	}
	return standard < ends || begins <= standard // the south of the world
}

// AddHours returns the local moment h true hours later. Without a time of day
// whole days are counted. Of an hour that the clock shows twice, the first is
// taken, so that the duty is never shown later than it may be.
func (z *Zone) AddHours(m Moment, h int) Moment {
	if z == nil || z.Summer == nil || !m.Timed() {
		return m.AddHours(h)
	}
	s := z.Summer
	standard := m.Date.ordinal()*day + int(m.minute) - 1
	if s.in(standard - s.Ahead) {
		standard -= s.Ahead
	}
	standard += h * 60
	if s.in(standard) {
		standard += s.Ahead
	}
	return Moment{fromOrdinal(standard / day), int16(standard%day + 1)}
}

func (z *Zone) faults() []Wrong {
	var out []Wrong
	if z.Name == "" {
		out = append(out, Wrong{"zone.name", "a time zone has a name"})
	}
	s := z.Summer
	if s == nil {
		return out
	}
	if s.Ahead <= 0 || s.Ahead > 120 {
		out = append(out, Wrong{"zone.summer.ahead", "the clock is put on by 1 to 120 minutes"})
	}
	if s.Source == "" {
		out = append(out, Wrong{"zone.summer.source", "say which law sets summer time"})
	}
	for _, t := range []struct {
		path string
		Turn
	}{{"zone.summer.begins", s.Begins}, {"zone.summer.ends", s.Ends}} {
		if t.Month < 1 || t.Month > 12 || t.Week < 1 || t.Week > 5 || t.Hour < 0 || t.Hour > 23 {
			out = append(out, Wrong{t.path, "a month of 1 to 12, a week of 1 to 5 and an hour of 0 to 23 are wanted"})
		}
	}
	if s.Begins == s.Ends {
		out = append(out, Wrong{"zone.summer.ends", "it ends when it begins"})
	}
	return out
}
