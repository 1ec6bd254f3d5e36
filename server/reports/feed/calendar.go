package feed

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"wayfall/server/catalogue"
)

// Calendar is what a feed is made from.
type Calendar struct {
	Name   string // of the calendar, for people
	Domain string // of the institution: the second half of every name
	// Stamp is when the last entry of the log came in.
	Stamp  time.Time
	Zone   *time.Location // of times without an offset; nil is UTC
	Duties []catalogue.Duty
}

// Open returns the duties of a person that are to be done and have a day.
func Open(all []catalogue.Duty, person string) []catalogue.Duty {
	var out []catalogue.Duty
	for _, d := range all {
		if _, _, ok := dueOf(d.Due, time.UTC); ok && d.Who == person && person != "" && !d.Done && d.Void == "" && !strings.HasSuffix(d.Code, "_LINE") {
			out = append(out, d)
		}
	}
	return out
}

// dueOf reads a civil date or a local time.
func dueOf(text string, zone *time.Location) (at time.Time, timed, ok bool) {
	if t, err := time.Parse("2006-01-02", text); err == nil {
		return t, false, true
	}
	t, err := time.ParseInLocation("2006-01-02T15:04", text, zone)
	return t, true, err == nil
}

// Bytes writes the calendar. A duty without a day is left out.
func (c Calendar) Bytes() []byte {
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	duties := slices.Clone(c.Duties)
	slices.SortStableFunc(duties, func(a, b catalogue.Duty) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(c.uid(a), c.uid(b)))
	})
	var w lines
	w.put("BEGIN", "VCALENDAR")
	w.put("VERSION", "2.0")
	w.put("PRODID", "-//wayfall//duties//EN")
	w.put("CALSCALE", "GREGORIAN")
	w.put("METHOD", "PUBLISH")
	w.put("X-WR-CALNAME", escape(c.Name))
	told := map[string]bool{}
	for _, d := range duties {
		if uid := c.uid(d); !told[uid] {
			told[uid] = true
			c.event(&w, d, uid)
		}
	}
	w.put("END", "VCALENDAR")
	return w.out.Bytes()
}

// event writes one duty: a whole day, or a moment in UTC, which needs no
// description of a time zone.
func (c Calendar) event(w *lines, d catalogue.Duty, uid string) {
	at, timed, ok := dueOf(d.Due, c.Zone)
	if !ok {
		return
	}
	w.put("BEGIN", "VEVENT")
	w.put("UID", uid)
	w.put("DTSTAMP", c.Stamp.UTC().Format(utc))
	if timed {
		w.put("DTSTART", at.UTC().Format(utc))
	} else {
		w.put("DTSTART;VALUE=DATE", at.Format("20060102"))
		w.put("DTEND;VALUE=DATE", at.AddDate(0, 0, 1).Format("20060102"))
	}
	w.put("SUMMARY", escape(join(": ", d.Text, join(", ", d.Animal.Name, d.Animal.Tag))))
	if d.Cites != "" {
		w.put("DESCRIPTION", escape("Rule "+d.Cites))
	}
	w.put("TRANSP", "TRANSPARENT")
	w.put("CLASS", "PRIVATE")
	w.put("END", "VEVENT")
}

const utc = "20060102T150405Z"

// uid names a duty by what it is about and not by what it says.
func (c Calendar) uid(d catalogue.Duty) string {
	sum := sha256.Sum256([]byte(d.Report + "\x00" + d.Animal.ID + "\x00" + d.Code))
	domain := c.Domain
	if domain == "" {
		domain = "wayfall"
	}
	return base64.RawURLEncoding.EncodeToString(sum[:16]) + "@" + plain(domain)
}

func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' {
			return r
		}
		return '-'
	}, text)
}

func join(sep, a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + sep + b
}

// escape writes TEXT as RFC 5545, 3.3.11 asks. A control character that it
// does not allow becomes a space, and bytes that are no UTF-8 the sign for
// that.
func escape(text string) string {
	var b strings.Builder
	text = strings.ReplaceAll(text, "\r\n", "\n")
	for _, r := range strings.ToValidUTF8(text, "\uFFFD") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n' || r == '\r':
			b.WriteString(`\n`)
		case r < ' ' && r != '\t' || r == 0x7F:
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// lines are content lines while they are written.
type lines struct{ out bytes.Buffer }

// most is how many octets a line may have before its CRLF (RFC 5545, 3.1).
const most = 75

func (w *lines) put(name, value string) { w.out.WriteString(fold(name + ":" + value)) }

// fold breaks a line after at most 75 octets; what follows begins with a
// space, which counts. It never cuts a letter.
func fold(line string) string {
	var b strings.Builder
	room := most
	for len(line) > 0 {
		_, n := utf8.DecodeRuneInString(line)
		if n > room {
			b.WriteString("\r\n ")
			room = most - 1
		}
		b.WriteString(line[:n])
		line, room = line[n:], room-n
	}
	return b.String() + "\r\n"
}
