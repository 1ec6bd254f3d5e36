// Package duties follows what a verdict has started: which duties are open,
// done or late, and what proves it.
//
// It promises that a duty is never forgotten because a verdict was judged
// anew: duties are matched by subject and code, and the earliest due time
// stands until somebody waives it with a document. It never reads the clock
// and sends nothing.
package duties

import (
	"slices"
	"strings"
	"wayfall/permits"
)

// State is how a duty stands. The zero State is unknown.
type State uint8

// The states of a duty.
const (
	Unknown  State = iota
	Open           // not done, not yet late
	Late           // not done, past its time
	Done           // done in time, or without a set time
	DoneLate       // done after its time
	Waived         // lifted by a document
)

// String returns the word used in data.
func (s State) String() string {
	return [...]string{"unknown", "open", "late", "done", "done_late", "waived"}[s]
}

// MarshalText writes the word used in data.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Evidence is what shows that a duty was done or lifted.
type Evidence struct {
	Subject string         `json:"subject"`
	Code    string         `json:"code"`
	At      permits.Moment `json:"at,omitzero"`
	Proof   string         `json:"proof,omitempty"` // reference number, file, name of the contact
	Waives  bool           `json:"waives,omitempty"`
}

// bare tells whether the proof that a duty needs is missing.
func (e *Evidence) bare() bool { return e.Proof == "" }

// Duty is one obligation of one subject, a report, an animal or a permit.
type Duty struct {
	permits.Obligation
	Subject string         `json:"subject"`
	Person  string         `json:"person,omitempty"` // who is to do it; unknown: whoever sees to it
	Started permits.Moment `json:"started,omitzero"`
	// By is the time to work to: the due time, or for a word of the law the
	// institution's own setting.
	By       permits.Moment `json:"by,omitzero"`
	Own      bool           `json:"own_setting,omitempty"` // By is the institution's setting and not the law's number
	Evidence *Evidence      `json:"evidence,omitempty"`
}

// Settings are the institution's own periods for words of the law that give no
// number, such as promptly.
type Settings struct {
	Words    map[string]permits.DueRule `json:"words"`
	Calendar permits.Calendar           `json:"calendar"`
}

// Usual are settings to begin with: at once means the same day, promptly a
// week. Both are choices of ours and no number of the law.
func Usual() Settings {
	return Settings{Words: map[string]permits.DueRule{"immediately": {SameDay: true}, "promptly": {Days: 7}}}
}

// From returns the duties that a verdict starts for a subject. The moment is
// when the clocks start for words of the law.
func From(v *permits.Verdict, subject string, at permits.Moment, s *Settings) []Duty {
	out := make([]Duty, 0, len(v.Obligations))
	for _, o := range v.Obligations {
		d := Duty{Obligation: o, Subject: subject, Started: at, By: o.Due.At}
		if rule, ok := s.Words[o.Due.Word]; ok && !d.By.Known() {
			due, _ := rule.From(at, &s.Calendar)
			d.By, d.Own = due.At, true
		}
		out = append(out, d)
	}
	return out
}

// Merge adds newly started duties to those that stand. A duty that is already
// there keeps its evidence; of two times the earlier one stands.
func Merge(standing, started []Duty) []Duty {
	out := slices.Clone(standing)
	for _, n := range started {
		i := slices.IndexFunc(out, func(d Duty) bool { return d.Subject == n.Subject && d.Code == n.Code })
		if i < 0 {
			out = append(out, n)
			continue
		}
		if n.By.Known() && (!out[i].By.Known() || n.By.Before(out[i].By)) {
			out[i].By, out[i].Own, out[i].Due = n.By, n.Own, n.Due
		}
	}
	return out
}

// Settle puts evidence to the duties it belongs to, the earliest evidence
// first, and returns what belongs to none. Evidence without a proof settles
// nothing.
func Settle(list []Duty, proofs []Evidence) (settled []Duty, loose []Evidence) {
	settled = slices.Clone(list)
	proofs = slices.Clone(proofs)
	slices.SortStableFunc(proofs, func(a, b Evidence) int {
		switch {
		case a.At.Before(b.At):
			return -1
		case b.At.Before(a.At):
			return 1
		}
		return 0
	})
	for i := range proofs {
		p := &proofs[i]
		j := slices.IndexFunc(settled, func(d Duty) bool {
			return d.Subject == p.Subject && d.Code == p.Code && d.Evidence == nil
		})
		if j < 0 || p.bare() {
			loose = append(loose, *p)
			continue
		}
		settled[j].Evidence = p
	}
	return settled, loose
}

// State tells how the duty stands at a moment. A duty without a time is never
// late; evidence without a time of its own does not show that it was in time.
func (d *Duty) State(now permits.Moment) State {
	switch {
	case d.Evidence != nil && d.Evidence.Waives:
		return Waived
	case d.Evidence != nil:
		if d.By.Known() && (!d.Evidence.At.Known() || past(d.Evidence.At, d.By)) {
			return DoneLate
		}
		return Done
	case d.By.Known() && now.Known() && past(now, d.By):
		return Late
	}
	return Open
}

// past tells whether a moment is after a due time. A due day lasts until its
// end; against a due hour, a day without a time counts from its end.
func past(at, due permits.Moment) bool {
	if !due.Timed() {
		return at.Date > due.Date
	}
	if !at.Timed() {
		return at.Date >= due.Date
	}
	return due.Before(at)
}

// Agenda returns what is not settled at the moment, the most urgent first:
// by time, and those without a time last.
func Agenda(list []Duty, now permits.Moment) []Duty {
	var out []Duty
	for i := range list {
		if s := list[i].State(now); s == Open || s == Late {
			out = append(out, list[i])
		}
	}
	slices.SortStableFunc(out, func(a, b Duty) int {
		switch {
		case a.By.Known() != b.By.Known():
			if a.By.Known() {
				return -1
			}
			return 1
		case a.By.Before(b.By):
			return -1
		case b.By.Before(a.By):
			return 1
		}
		if a.Subject != b.Subject {
			return strings.Compare(a.Subject, b.Subject)
		}
		return strings.Compare(a.Code, b.Code)
	})
	return out
}

// YearReport returns the duty to report on a permit's year. It falls due even
// when nothing was picked up. The fallback is the day of the next year that the
// law names for a permit which states none; in the United States that is 31
// March, 50 CFR 13.45.
func YearReport(a *permits.Authority, year, animals int, fallback permits.MonthDay) Duty {
	d := Duty{Subject: a.ID, Started: permits.Moment{Date: permits.NewDate(year, 12, 31)}}
	d.Obligation = permits.Obligation{Code: "FILE_REPORT", To: a.ReportTo, Authority: a.ID, Rule: "R-REPORT"}
	if animals == 0 {
		d.Code = "FILE_ZERO_REPORT"
	}
	day := a.ReportDue
	if day == 0 {
		day = fallback
	}
	d.Due.At = permits.Moment{Date: day.In(year + 1)}
	d.By = d.Due.At
	return d
}
