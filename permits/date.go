package permits

import (
	"errors"
	"strconv"
)

// Date is a day of the civil calendar at the place of the event, without a
// time zone. The zero Date is unknown. Later days compare greater.
type Date int32

// ErrDate reports text that is not a day of the calendar.
var ErrDate = errors.New("not a calendar date of the form 2026-05-10")

const (
	yearShift  = 9
	monthShift = 5
	monthMask  = 15
	dayMask    = 31
)

// NewDate returns the given day, or the unknown Date if there is no such day.
func NewDate(year, month, day int) Date {
	if year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > monthDays(year, month) {
		return 0
	}
	return Date(year<<yearShift | month<<monthShift | day)
}

// ParseDate reads a date written as 2026-05-10.
func ParseDate(s string) (Date, error) {
	if len(s) != 10 || s[4] != '-' || s[7] != '-' {
		return 0, ErrDate
	}
	y, okY := digits(s[:4])
	m, okM := digits(s[5:7])
	d, okD := digits(s[8:])
	date := NewDate(y, m, d)
	if !okY || !okM || !okD || date == 0 {
		return 0, ErrDate
	}
	return date, nil
}

func digits(s string) (int, bool) {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}

// Known tells whether the date is a day at all.
func (d Date) Known() bool { return d != 0 }

// Year returns the year of the date, 0 if the date is unknown.
func (d Date) Year() int { return int(d) >> yearShift }

// Month returns the month, 1 for January.
func (d Date) Month() int { return int(d) >> monthShift & monthMask }

// Day returns the day of the month.
func (d Date) Day() int { return int(d) & dayMask }

// String writes the date as 2026-05-10, and the unknown date as "".
func (d Date) String() string {
	if d == 0 {
		return ""
	}
	b := make([]byte, 0, 10)
	return string(d.append(b))
}

func (d Date) append(b []byte) []byte {
	y := d.Year()
	b = append(b, byte('0'+y/1000), byte('0'+y/100%10), byte('0'+y/10%10), byte('0'+y%10), '-')
	b = append(b, byte('0'+d.Month()/10), byte('0'+d.Month()%10), '-')
	return append(b, byte('0'+d.Day()/10), byte('0'+d.Day()%10))
}

// MarshalText writes the date as 2026-05-10, and the unknown date as "".
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads 2026-05-10, and "" as unknown.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = 0
		return nil
	}
	got, err := ParseDate(string(text))
	*d = got
	return err
}

// AddDays returns the date n days later, or earlier if n is negative. The
// unknown date stays unknown.
func (d Date) AddDays(n int) Date {
	if d == 0 {
		return 0
	}
	return fromOrdinal(d.ordinal() + n)
}

// AddMonths returns the same day n months later. Where that month is shorter,
// the last day of the month is taken: six months from 31 August is the last of
// February.
func (d Date) AddMonths(n int) Date {
	if d == 0 {
		return 0
	}
	months := d.Year()*12 + d.Month() - 1 + n
	y, m := months/12, months%12+1
	return NewDate(y, m, min(d.Day(), monthDays(y, m)))
}

// DaysUntil returns the number of days from d to e.
func (d Date) DaysUntil(e Date) int { return e.ordinal() - d.ordinal() }

// Weekday returns 0 for Sunday up to 6 for Saturday.
func (d Date) Weekday() int { return d.ordinal() % 7 }

// ordinal counts days so that 1 January of year 1 (a Monday in the calendar
// carried backwards) is day 1.
func (d Date) ordinal() int {
	y := d.Year() - 1
	n := 365*y + y/4 - y/100 + y/400 + d.Day()
	for m := 1; m < d.Month(); m++ {
		n += monthDays(d.Year(), m)
	}
	return n
}

func fromOrdinal(n int) Date {
	if n < 1 {
		return 0
	}
	y := n*400/146097 + 1 // 146,097 days in 400 years; the guess is a year high at most
	for NewDate(y, 1, 1).ordinal() > n {
		y--
	}
	rest := n - NewDate(y, 1, 1).ordinal() + 1
	m := 1
	for rest > monthDays(y, m) {
		rest -= monthDays(y, m)
		m++
		if m > 12 {
			m, y = 1, y+1
		}
	}
	return NewDate(y, m, rest)
}

func monthDays(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// MonthDay is a day of every year, such as the 31 January on which a report
// falls due. The zero MonthDay is unknown.
type MonthDay int16

// ParseMonthDay reads 01-31.
func ParseMonthDay(s string) (MonthDay, error) {
	if len(s) != 5 || s[2] != '-' {
		return 0, ErrDate
	}
	m, okM := digits(s[:2])
	d, okD := digits(s[3:])
	if !okM || !okD || m < 1 || m > 12 || d < 1 || d > monthDays(2024, m) {
		return 0, ErrDate
	}
	return MonthDay(m<<monthShift | d), nil
}

// In returns the day in the given year; 29 February falls on the 28th in a
// common year.
func (md MonthDay) In(year int) Date {
	m := int(md) >> monthShift
	if md == 0 {
		return 0
	}
	return NewDate(year, m, min(int(md)&dayMask, monthDays(year, m)))
}

// String writes 01-31, and the unknown day as "".
func (md MonthDay) String() string {
	if md == 0 {
		return ""
	}
	return md.In(2024).String()[5:]
}

// MarshalText writes 01-31.
func (md MonthDay) MarshalText() ([]byte, error) { return []byte(md.String()), nil }

// UnmarshalText reads 01-31, and "" as unknown.
func (md *MonthDay) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*md = 0
		return nil
	}
	got, err := ParseMonthDay(string(text))
	*md = got
	return err
}

// Moment is a local civil date, with the time of day where it is known. The
// zero Moment is unknown. Duties that run in hours are counted on this local
// clock; a change of summer time inside them is not looked at.
type Moment struct {
	Date   Date
	minute int16 // one more than the minute of the day; 0: time of day unknown
}

// At returns the moment of the given local time on d.
func (d Date) At(hour, minute int) Moment {
	if d == 0 || hour < 0 || hour > 23 || minute < 0 || minute > 59 {
		return Moment{Date: d}
	}
	return Moment{d, int16(hour*60 + minute + 1)}
}

// ParseMoment reads 2026-05-10 or 2026-05-10T14:05.
func ParseMoment(s string) (Moment, error) {
	if len(s) != 10 && len(s) != 16 {
		return Moment{}, ErrDate
	}
	d, err := ParseDate(s[:10])
	if err != nil || len(s) == 10 {
		return Moment{Date: d}, err
	}
	h, okH := digits(s[11:13])
	m, okM := digits(s[14:])
	if s[10] != 'T' || s[13] != ':' || !okH || !okM || h > 23 || m > 59 {
		return Moment{}, ErrDate
	}
	return d.At(h, m), nil
}

// Known tells whether at least the date is known.
func (m Moment) Known() bool { return m.Date != 0 }

// Timed tells whether the time of day is known too.
func (m Moment) Timed() bool { return m.minute != 0 }

// Before tells whether m is earlier than n. A date without a time stands for
// the start of its day.
func (m Moment) Before(n Moment) bool {
	return m.Date < n.Date || m.Date == n.Date && m.minute < n.minute
}

// AddHours returns the local moment h hours later. Without a time of day the
// hours are counted as whole days, rounded down, so that the duty is never
// shown later than it may be.
func (m Moment) AddHours(h int) Moment {
	if m.Date == 0 {
		return m
	}
	if m.minute == 0 {
		return Moment{Date: m.Date.AddDays(h / 24)}
	}
	t := int(m.minute) - 1 + h*60
	return Moment{m.Date.AddDays(t / 1440), int16(t%1440 + 1)}
}

// String writes 2026-05-10 or 2026-05-10T14:05, and the unknown moment as "".
func (m Moment) String() string {
	if m.minute == 0 {
		return m.Date.String()
	}
	t := int(m.minute) - 1
	b := m.Date.append(make([]byte, 0, 16))
	b = append(b, 'T', byte('0'+t/600), byte('0'+t/60%10), ':', byte('0'+t%60/10), byte('0'+t%10))
	return string(b)
}

// MarshalText writes the moment as String does.
func (m Moment) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (m *Moment) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*m = Moment{}
		return nil
	}
	got, err := ParseMoment(string(text))
	*m = got
	return err
}

// When is a stretch of time within which something happened, both ends
// included. A point in time has equal ends. The zero When is unknown.
type When struct {
	From Moment
	To   Moment
}

// On returns the When of one day.
func On(d Date) When { return When{Moment{Date: d}, Moment{Date: d}} }

// Known tells whether the stretch has a beginning and an end in order.
func (w When) Known() bool {
	return w.From.Known() && w.To.Known() && !w.To.Before(w.From)
}

// MarshalText writes a point as one moment and a stretch as two with a slash
// between them, as ISO 8601 does.
func (w When) MarshalText() ([]byte, error) {
	if w.From == w.To {
		return w.From.MarshalText()
	}
	return []byte(w.From.String() + "/" + w.To.String()), nil
}

// UnmarshalText reads 2026-05-10, 2026-05-10T14:05 or two of them with a slash.
func (w *When) UnmarshalText(text []byte) error {
	for i, c := range text {
		if c != '/' {
			continue
		}
		if err := w.From.UnmarshalText(text[:i]); err != nil {
			return err
		}
		if err := w.To.UnmarshalText(text[i+1:]); err != nil {
			return err
		}
		if w.To.Before(w.From) {
			return errors.New("the stretch ends before it begins: " + strconv.Quote(string(text)))
		}
		return nil
	}
	err := w.From.UnmarshalText(text)
	w.To = w.From
	return err
}

// String writes the stretch as MarshalText does.
func (w When) String() string {
	text, _ := w.MarshalText()
	return string(text)
}

// IsZero lets JSON leave out what is unknown.
func (w When) IsZero() bool { return w == When{} }

// IsZero lets JSON leave out what is unknown.
func (m Moment) IsZero() bool { return m == Moment{} }
