package web

import (
	"encoding/json"
	"net/url"
	"strconv"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/permits/screen/find"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/sync/record"
)

// question is a what-if question as it stands in an address: every value as it
// was typed, so that a link asks exactly what a person asked.
type question struct {
	Who, What, N, County, At, Place, Day, Paper string
	Said                                        map[string]string // by the key of its ask; none is not known
}

// plainKeys are the parameters that are typed.
func (q *question) plain() []struct {
	key string
	to  *string
} {
	return []struct {
		key string
		to  *string
	}{{"who", &q.Who}, {"what", &q.What}, {"n", &q.N}, {"county", &q.County}, {"at", &q.At}, {"place", &q.Place},
		{"day", &q.Day}, {"paper", &q.Paper}}
}

// readQuestion reads an address. asked tells whether it holds a question.
func readQuestion(v url.Values) (q question, asked bool) {
	q.Said = map[string]string{}
	for _, p := range q.plain() {
		*p.to = strings.TrimSpace(v.Get(p.key))
		asked = asked || *p.to != ""
	}
	for _, a := range append(asks, handAsk) {
		if said := v.Get(a.Key); said != "" {
			q.Said[a.Key], asked = said, true
		}
	}
	return q, asked
}

// Path is the address at which the question stands.
func (q question) Path() string {
	v := url.Values{}
	for _, p := range q.plain() {
		if *p.to != "" {
			v.Set(p.key, *p.to)
		}
	}
	for key, said := range q.Said {
		v.Set(key, said)
	}
	return "/what-if?" + v.Encode()
}

// with is the same question with one thing said otherwise; "" is not known.
func (q question) with(key, said string) question {
	out := q
	out.Said = map[string]string{}
	for k, s := range q.Said {
		out.Said[k] = s
	}
	for _, p := range out.plain() {
		if p.key == key {
			*p.to = said
			return out
		}
	}
	out.Said[key] = said
	if said == "" {
		delete(out.Said, key)
	}
	return out
}

// ordinary answers what was not said as an ordinary find would.
func (q question) ordinary() question {
	out := q.with("n", orElse(q.N, "1"))
	for _, a := range asks {
		if out.Said[a.Key] == "" {
			out.Said[a.Key] = a.usual
		}
	}
	return out
}

// open tells whether anything of the form was not said.
func (q question) open() bool {
	for _, a := range asks {
		if q.Said[a.Key] == "" {
			return true
		}
	}
	return false
}

// reading is a question with what its words were taken to mean.
type reading struct {
	question
	Wrong map[string]string // a sentence for each field that cannot be
	day   permits.Date
	count int
	where record.Georeference
}

// mean works out what the words of a question mean.
func (d *Desk) mean(q question, people map[string]string) reading {
	r := reading{question: q, Wrong: map[string]string{}, count: 1}
	if people[q.Who] == "" && q.Who != publicly {
		r.Wrong["who"] = "Choose who would take it."
	}
	if q.What == "" {
		r.Wrong["what"] = "Say what it is, or “unknown”."
	}
	if q.N != "" {
		n, err := strconv.Atoi(q.N)
		if err != nil || n < 1 || n > 200 {
			r.Wrong["n"] = "How many is a whole number from 1 to 200."
		}
		r.count = n
	}
	var err error
	if r.day, err = permits.ParseDate(q.Day); err != nil || len(q.Day) != len("2006-01-02") {
		r.day, r.Wrong["day"] = 0, "Say the day as 2026-05-10; there is none that is called this."
		if q.Day == "" {
			r.Wrong["day"] = "Say on which day."
		}
	}
	for _, a := range append(asks, handAsk) {
		if said := q.Said[a.Key]; said != "" && labelIn(a.Options, said) == "" {
			r.Wrong[a.Key] = "“" + said + "” is not one of the answers here."
		}
	}
	r.lay(d)
	return r
}

// lay reads where it lies: coordinates before words, and the county with both.
func (r *reading) lay(d *Desk) {
	state, county := "", ""
	if r.County != "" {
		var wrong string
		if state, county, wrong = d.Asker.County(r.County); wrong != "" {
			r.Wrong["county"] = wrong
			return
		}
	}
	w := find.Whereabouts{Coordinates: r.At, Locality: r.Place}
	if state != "" {
		w.Place = &record.Georeference{State: state, County: county}
	}
	g, err := d.Asker.Place(w)
	if err != nil {
		r.Wrong["at"] = upperFirst(strings.TrimSuffix(err.Error(), ".")) + "."
		return
	}
	if r.At == "" && g.State == "" && state != "" {
		g.State, g.County = state, county
	}
	r.where = g
}

// publicly is somebody whom the institution does not list.
const publicly = "public"

// salvager is the person as a report names one.
func (r *reading) salvager() string {
	if r.Who == publicly {
		return "a member of the public"
	}
	return r.Who
}

// report is the question as the fields of a report say it.
func (r *reading) report(zone string) map[string]any {
	day := record.When{Earliest: r.Day + "T00:00", Latest: r.Day + "T23:59", Precision: record.ToDay, Zone: zone}
	out := map[string]any{"salvager": r.salvager(), "found": day, "taken_at": day, "count": r.count, "signs": r.signs()}
	if r.What != unnamed {
		out["taxon"] = record.Determination{Written: r.What, Name: r.What, Certainty: record.Certainty(r.Said["sure"])}
	}
	if r.where.Known || r.where.State != "" || r.where.County != "" {
		out["place"] = r.where
	}
	if r.Place != "" {
		out["locality"] = r.Place
	}
	if c := r.Said["cause"]; c != "" {
		out["cause"] = record.Cause{Cause: c}
	}
	if land := (record.Land{Manager: r.Said["land"], Permission: r.Said["leave"]}); land != (record.Land{}) {
		if p := land.Permission; p == "written" || p == "spoken" {
			land.Permission, land.Written = "yes", p == "written"
		}
		out["land"] = land
	}
	for key, field := range map[string]string{"stuff": "material", "band": "band"} {
		if said := r.Said[key]; said != "" {
			out[field] = said
		}
	}
	if r.Paper != "" {
		out["authority"] = r.Paper
	}
	return out
}

// unnamed is how a question says that nobody knows what it is.
const unnamed = "unknown"

func (r *reading) signs() record.Signs {
	s := r.Said
	others, err := strconv.Atoi(s["others"])
	any := ""
	if err == nil {
		any = map[bool]string{true: "yes", false: "no"}[others > 0]
	}
	return record.Signs{Crime: s["crime"], Caused: s["caused"], Planned: s["planned"], Research: s["research"], Keep: s["keep"],
		PermitCopy: s["copy"], Danger: s["danger"], InHand: orElse(s["hand"], "no"), Others: any, OthersNearby: others}
}

// draft is the question as a draft of a report, which is never handed in.
func (r *reading) draft(zone string) (intake.Draft, error) {
	var d intake.Draft
	said := r.report(zone)
	for _, f := range record.Fields {
		v, ok := said[f.Name]
		if f.Kind != record.Report || !ok {
			continue
		}
		text, err := json.Marshal(v)
		if err != nil {
			return d, err
		}
		if err := d.Say(f, text); err != nil {
			return d, err
		}
	}
	return d, nil
}

// askedBy is who asks, and when: now, or on the day itself if that is still to
// come, since a report of a day to come could not be.
func (d *Desk) askedBy(by catalogue.Hand, day permits.Date) catalogue.Hand {
	now := d.now()
	if today := d.today(); day <= today {
		return by
	}
	at := time.Date(day.Year(), time.Month(day.Month()), day.Day(), now.Hour(), now.Minute(), 0, 0, now.Location())
	by.AtMS, by.Local, by.Zone = at.UnixMilli(), at.Format("2006-01-02T15:04"), at.Format("-07:00")
	return by
}

// zoneOn is the institution's offset on a day.
func (d *Desk) zoneOn(day permits.Date) string {
	zone := d.Zone
	if zone == nil {
		zone = time.UTC
	}
	return time.Date(day.Year(), time.Month(day.Month()), day.Day(), 12, 0, 0, 0, zone).Format("-07:00")
}

// fieldsOf are the fields of the form by those of a report.
var fieldsOf = map[string]string{"found": "day", "taken_at": "day", "count": "n", "place": "at", "cause": "cause", "material": "stuff", "land": "land"}

// wrongFrom puts what the check of a report finds at the fields of the form.
func (r *reading) wrongFrom(err error) bool {
	if !fault.Is(err, fault.Invalid) {
		return false
	}
	for _, p := range fault.Pointers(err) {
		field, _, _ := strings.Cut(strings.TrimPrefix(p.Pointer, "/"), "/")
		r.Wrong[orElse(fieldsOf[field], "what")] = fullStop(p.Detail)
	}
	if len(r.Wrong) == 0 {
		r.Wrong["what"] = fullStop(sentence(err))
	}
	return true
}
