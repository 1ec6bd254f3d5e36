package feed

import (
	"bytes"
	"context"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"wayfall/server/catalogue"
)

// event is one VEVENT as the grammar of RFC 5545 reads it.
type event map[string]string

// contentLine is RFC 5545, 3.1: a name, parameters, a colon, a value.
var contentLine = regexp.MustCompile(`^([A-Z0-9-]+)((?:;[A-Z0-9-]+=(?:"[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*))*):([^\x00-\x08\x0a-\x1f\x7f]*)$`)

// parse holds a calendar to the grammar and returns its events.
func parse(data []byte) (all []event, err error) {
	if !utf8.Valid(data) {
		return nil, fmt.Errorf("the calendar is not UTF-8")
	}
	text := string(data)
	if !strings.HasSuffix(text, "\r\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		return nil, fmt.Errorf("a line does not end in CRLF")
	}
	for l := range strings.SplitSeq(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(l) > 75 || !utf8.ValidString(l) {
			return nil, fmt.Errorf("a line of %d octets, or a cut letter: %q", len(l), l)
		}
	}
	var stack []string
	var now event
	for l := range strings.SplitSeq(strings.TrimSuffix(strings.ReplaceAll(text, "\r\n ", ""), "\r\n"), "\r\n") {
		m := contentLine.FindStringSubmatch(l)
		if m == nil {
			return nil, fmt.Errorf("no content line: %q", l)
		}
		switch m[1] {
		case "BEGIN":
			stack = append(stack, m[3])
			if m[3] == "VEVENT" {
				now = event{}
			}
		case "END":
			if len(stack) == 0 || stack[len(stack)-1] != m[3] {
				return nil, fmt.Errorf("END:%s ends %v", m[3], stack)
			}
			stack = stack[:len(stack)-1]
			if m[3] == "VEVENT" {
				if err := now.check(); err != nil {
					return nil, err
				}
				all = append(all, now)
			}
		default:
			if len(stack) == 2 {
				if _, twice := now[m[1]]; twice {
					return nil, fmt.Errorf("%s stands twice", m[1])
				}
				now[m[1]] = m[3]
			}
		}
	}
	if len(stack) != 0 || !strings.HasPrefix(text, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:") {
		return nil, fmt.Errorf("the calendar is not whole: %v", stack)
	}
	return all, nil
}

var (
	stampForm = regexp.MustCompile(`^[0-9]{8}T[0-9]{6}Z$`)
	startForm = regexp.MustCompile(`^[0-9]{8}(T[0-9]{6}Z)?$`)
	textForm  = regexp.MustCompile(`^(?:[^\\;,]|\\[\\;,nN])*$`)
)

func (e event) check() error {
	if e["UID"] == "" || !stampForm.MatchString(e["DTSTAMP"]) || !startForm.MatchString(e["DTSTART"]) {
		return fmt.Errorf("an event lacks its name, stamp or start: %v", e)
	}
	for _, name := range []string{"SUMMARY", "DESCRIPTION"} {
		if !textForm.MatchString(e[name]) {
			return fmt.Errorf("%s is not escaped: %q", name, e[name])
		}
	}
	return nil
}

// plainText undoes what escape did.
func plainText(value string) string {
	return strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n").Replace(value)
}

func deposit() catalogue.Duty {
	return catalogue.Duty{Code: "DEPOSIT", Text: "Deposit it, within 6 months; by 31 Dec", Cites: "R-DEPOSIT", Due: "2025-12-31", Who: "ana", Report: "R1",
		Animal: catalogue.Row{ID: "A1", Name: "Common Loon", Tag: "ABC-0001"}}
}

func calendar(duties ...catalogue.Duty) Calendar {
	zone := time.FixedZone("", -5*3600)
	return Calendar{Name: "Duties of Zoë, Jr.", Domain: "sablewater", Stamp: time.UnixMilli(1769900000123), Zone: zone, Duties: duties}
}

func TestADutyIsAnEventOnItsDay(t *testing.T) {
	timed := deposit()
	timed.Code, timed.Due = "NOTIFY", "2025-10-04T14:00"
	undated := deposit()
	undated.Code, undated.Due = "HAND_OVER_NOW", "immediately"
	all, err := parse(calendar(deposit(), timed, undated).Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 {
		t.Fatalf("got %d events, want 2: what has no day has no place in a calendar", len(all))
	}
	if got := all[0]["DTSTART"]; got != "20251004T190000Z" {
		t.Errorf("14:00 at -05:00 begins at %s, want 20251004T190000Z", got)
	}
	e := all[1]
	if e["DTSTART"] != "20251231" || e["DTEND"] != "20260101" || e["DTSTAMP"] != "20260131T225320Z" {
		t.Errorf("got %v", e)
	}
	if got, want := plainText(e["SUMMARY"]), "Deposit it, within 6 months; by 31 Dec: Common Loon, ABC-0001"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestTheNameOfADutyStaysWhenItsTextChanges(t *testing.T) {
	uid := func(d catalogue.Duty) string {
		all, err := parse(calendar(d).Bytes())
		if err != nil || len(all) != 1 {
			t.Fatalf("%v %v", all, err)
		}
		return all[0]["UID"]
	}
	first, later, other := deposit(), deposit(), deposit()
	later.Text, later.Due, later.Animal.Name = "Anders gesagt", "2025-11-30", "Loon"
	other.Animal.ID = "A2"
	if uid(first) != uid(later) {
		t.Error("another text made another name")
	}
	if uid(first) == uid(other) {
		t.Error("two animals share a name")
	}
	if !bytes.Equal(calendar(first, other).Bytes(), calendar(other, first).Bytes()) {
		t.Error("the order in which duties come changes the bytes")
	}
}

func TestOnlyOpenDutiesOfThePersonAreTold(t *testing.T) {
	done, void, line, word, others := deposit(), deposit(), deposit(), deposit(), deposit()
	done.Done, void.Void, line.Code, word.Due, others.Who = true, "not taken", "SALVAGE_LINE", "promptly", "cal"
	nobody := deposit()
	nobody.Who = ""
	if got := Open([]catalogue.Duty{done, void, line, word, others, nobody, deposit()}, "ana"); len(got) != 1 || got[0].Code != "DEPOSIT" {
		t.Errorf("got %+v, want the one deposit", got)
	}
	if got := Open([]catalogue.Duty{nobody}, ""); len(got) != 0 {
		t.Errorf("nobody has duties: %+v", got)
	}
}

func FuzzFold(f *testing.F) {
	f.Add("plain", "2025-12-31")
	f.Add(strings.Repeat("é", 80)+"; a, b\\ \r\n\x00\xff", "2025-10-04T14:00")
	f.Add(strings.Repeat("𝔸", 40), "0001-01-01")
	f.Add(strings.Repeat("a", 74)+"é", "never")
	f.Fuzz(func(t *testing.T, text, due string) {
		line := "SUMMARY:" + escape(text)
		folded := fold(line)
		if got := strings.TrimSuffix(strings.ReplaceAll(folded, "\r\n ", ""), "\r\n"); got != line {
			t.Fatalf("unfolded %q, want %q", got, line)
		}
		d := deposit()
		d.Text, d.Due, d.Animal.Tag, d.Cites = text, due, text, text
		c := calendar(d)
		c.Name, c.Domain = text, text
		all, err := parse(c.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if _, _, ok := dueOf(due, time.UTC); ok != (len(all) == 1) {
			t.Fatalf("due %q gave %d events", due, len(all))
		}
	})
}

// drawers is a Store in memory.
type drawers map[string][]byte

func (d drawers) Read(_ context.Context, shelf, name string) ([]byte, error) {
	return d[shelf+"/"+name], nil
}

func (d drawers) Change(_ context.Context, shelf, name string, edit func([]byte) ([]byte, error)) error {
	next, err := edit(d[shelf+"/"+name])
	d[shelf+"/"+name] = next
	return err
}

type same byte

func (s *same) Read(b []byte) (int, error) {
	*s++
	for i := range b {
		b[i] = byte(*s)
	}
	return len(b), nil
}

func TestASecretOpensUntilItIsEndedAndRestsAsADigest(t *testing.T) {
	ctx, store := t.Context(), drawers{}
	k := Keys{Store: store, Chance: new(same)}
	opens := func(person, secret string, want bool) {
		t.Helper()
		if got, err := k.Opens(ctx, person, secret); err != nil || got != want {
			t.Errorf("%s with %q: got %v, %v; want %v", person, secret, got, err, want)
		}
	}
	opens("ana", "", false)
	one, err := k.Make(ctx, "ana")
	if err != nil || len(one) != 43 {
		t.Fatalf("got %q, %v", one, err)
	}
	opens("ana", one, true)
	opens("cal", one, false)
	opens("ana", one+"x", false)
	two, _ := k.Make(ctx, "ana")
	opens("ana", one, false)
	opens("ana", two, true)
	for name, raw := range store {
		if bytes.Contains(raw, []byte(two)) {
			t.Errorf("%s holds the secret in readable form", name)
		}
	}
	if err := k.End(ctx, "ana"); err != nil {
		t.Fatal(err)
	}
	opens("ana", two, false)
	opens("ana", "", false)
}
