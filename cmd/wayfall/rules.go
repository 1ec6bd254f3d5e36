package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
)

// rulesCommand lets a permit officer look at rules before anybody relies on
// them.
type rulesCommand struct {
	Check   rulesCheck   `cmd:"" help:"List every fault of rule packs, or of authorities, and end with 1 if there is one."`
	Explain rulesExplain `cmd:"" help:"Say what the rules answer for one find, and why."`
}

// stdin is where facts are read from when no flag states any.
var stdin io.Reader = os.Stdin

// lawNotice stands under every answer of this command.
const lawNotice = "The packs and papers that ship are samples. This is a check against loaded rules and not legal advice:\n" +
	"the officer on the spot, the issuing agency and licensed practice prevail."

type rulesCheck struct {
	Files []string `arg:"" optional:"" name:"file" type:"existingfile" help:"Packs, or a list of authorities. A pack replaces the shipped one of its id. None: the shipped packs."`
	Taxa  string   `help:"Checklist to hold names of animals and groups to; the shipped one if not given." type:"existingfile"`
}

// Run prints one fault to a line: file, rule, path, sentence.
func (c *rulesCheck) Run(out io.Writer) error {
	list, err := checklistFrom(c.Taxa)
	if err != nil {
		return err
	}
	var given []rules.Source
	var faults []rules.Fault
	papers := 0
	for _, name := range c.Files {
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		s := rules.Source{Name: filepath.Base(name), Data: data}
		if bytes.HasPrefix(bytes.TrimSpace(data), []byte("[")) {
			papers++
			faults = append(faults, checkPapers(s, list)...)
			continue
		}
		given = append(given, s)
	}
	all := among(given)
	_, wrong := rules.Inspect(list, all...)
	faults = append(faults, wrong...)
	for _, f := range faults {
		fmt.Fprintln(out, f)
	}
	if len(faults) > 0 {
		return fmt.Errorf("%d faults", len(faults))
	}
	fmt.Fprintf(out, "no fault in %d packs and %d lists of authorities, held to %d animals\n", len(all), papers, len(list.Taxa))
	return nil
}

func checklistFrom(file string) (*permits.Checklist, error) {
	data := packs.Taxa()
	if file != "" {
		var err error
		if data, err = os.ReadFile(file); err != nil {
			return nil, err
		}
	}
	list, err := permits.ReadChecklist(data)
	if err != nil {
		return nil, fmt.Errorf("the checklist: %w", err)
	}
	return list, nil
}

// among puts packs among the shipped ones, each in the place of the one with
// its id.
func among(given []rules.Source) []rules.Source {
	var out []rules.Source
	own := map[string]bool{}
	for _, g := range given {
		own[packID(g.Data)] = true
	}
	for _, f := range packs.Rules() {
		if !own[packID(f.Data)] {
			out = append(out, rules.Source{Name: f.Name, Data: f.Data})
		}
	}
	return append(out, given...)
}

func packID(data []byte) string {
	var head struct {
		ID string `json:"id"`
	}
	if json.Unmarshal(data, &head) != nil {
		return ""
	}
	return head.ID
}

func checkPapers(s rules.Source, list *permits.Checklist) []rules.Fault {
	var all []permits.Authority
	dec := json.NewDecoder(bytes.NewReader(s.Data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&all); err != nil {
		return []rules.Fault{{File: s.Name, Path: "$", What: "cannot be read as a list of authorities: " + err.Error()}}
	}
	var out []rules.Fault
	for i := range all {
		for _, f := range rules.Check(&all[i], rules.Known{Checklist: list}) {
			f.File, f.Path = s.Name, fmt.Sprintf("[%d].%s", i, f.Path)
			out = append(out, f)
		}
	}
	return out
}

type rulesExplain struct {
	Taxon    string   `help:"Which animal, by scientific or common name."`
	State    string   `help:"State, as US-MI, MI or Michigan; or another ISO 3166 code."`
	County   string   `help:"County, for the reader; the shipped rules do not ask for it."`
	Person   string   `help:"Who takes it, as the authorities name people."`
	Date     string   `help:"Day on which it is found and taken, as 2026-05-10."`
	Cause    string   `help:"What it died of, as window or vehicle."`
	Land     string   `help:"Who controls the ground, as private, road_authority or national_park."`
	Consent  string   `help:"What the owner or manager of the ground said: written, spoken or none."`
	Ordinary bool     `help:"Answer all else as for an ordinary find: one carcass, by chance, nothing suspicious, the permit at hand."`
	Used     int      `help:"How much of every number of every permit is taken as used."`
	Packs    []string `help:"Packs beside, or in place of, the shipped ones." type:"existingfile"`
	Papers   string   `help:"List of authorities; the shipped samples if not given." type:"existingfile"`
	JSON     bool     `name:"json" help:"Print the verdict as JSON."`
}

// Run reads the facts, asks the rules, and says what they answer.
func (c *rulesExplain) Run(out io.Writer) error {
	f, err := c.facts()
	if err != nil {
		return err
	}
	w, err := c.world()
	if err != nil {
		return err
	}
	v := screen.Check(&f, w)
	if c.JSON {
		text, err := json.MarshalIndent(v, "", " ")
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(out, "%s\n", text)
		return err
	}
	explain(out, &v)
	changes(out, f, w, &v)
	fmt.Fprintf(out, "\nEvery number is taken as used up to %d.\n%s\n", c.Used, lawNotice)
	return nil
}

// alike is how an ordinary find answers what nobody asked about it.
const alike = `{"role":"volunteer","activity":"salvage","material":"carcass","count":1,"event_carcass_count":1,"identified":true,
 "band":"none","cause":"unknown","land_manager":"private","landowner_consent":"written","permit_copy_on_hand":true,"opportunistic":true,
 "in_hand":false,"official_duty":false,"designated":false,"suspected_crime":false,"suspected_poison":false,"salvager_caused_death":false,
 "euthanised":false,"research_purpose":false,"wants_to_keep":false,"sale":false,"lawful_hunt":false,"open_season":false,
 "in_live_traffic_lane":false,"other_hazard":false,"soft_tissue":true,"nest_active":false,"eggs_viable":false,"commercial":false,
 "crosses_border":false}`

// facts reads the facts from the flags, or from the standard input where no
// flag states any.
func (c *rulesExplain) facts() (screen.Facts, error) {
	f := screen.Facts{Activity: "salvage"}
	if c.Ordinary {
		if err := json.Unmarshal([]byte(alike), &f); err != nil {
			return f, err
		}
	}
	if c.Taxon+c.State+c.County+c.Person+c.Date+c.Cause+c.Land+c.Consent == "" {
		dec := json.NewDecoder(stdin)
		dec.DisallowUnknownFields()
		if err := dec.Decode(&f); err != nil {
			return f, fmt.Errorf("the facts on the standard input: %w", err)
		}
		return f, nil
	}
	return f, c.flags(&f)
}

func (c *rulesExplain) flags(f *screen.Facts) error {
	set := func(to *string, from string) {
		if from != "" {
			*to = from
		}
	}
	set(&f.Taxon, c.Taxon)
	set(&f.Person, c.Person)
	set(&f.Cause, c.Cause)
	set(&f.LandManager, c.Land)
	set(&f.Site, c.County)
	if c.Consent != "" {
		if err := json.Unmarshal([]byte(`"`+c.Consent+`"`), &f.Consent); err != nil {
			return err
		}
	}
	if c.State != "" {
		code := find.CodeOf(c.State)
		if code == "" {
			code = c.State
		}
		f.Jurisdictions = []string{code}
	}
	now := time.Now()
	f.JudgedAt = permits.Moment{Date: permits.NewDate(now.Year(), int(now.Month()), now.Day())}
	if c.Date != "" {
		day, err := permits.ParseDate(c.Date)
		if err != nil {
			return fmt.Errorf("--date: %w", err)
		}
		f.Found, f.Possessed, f.JudgedAt = permits.On(day), permits.On(day), permits.Moment{Date: day}
	}
	return nil
}

func (c *rulesExplain) world() (*screen.World, error) {
	list, err := checklistFrom("")
	if err != nil {
		return nil, err
	}
	var given []rules.Source
	for _, name := range c.Packs {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		given = append(given, rules.Source{Name: filepath.Base(name), Data: data})
	}
	book, faults := rules.Inspect(list, among(given)...)
	if len(faults) > 0 {
		return nil, rules.BadPack(faults)
	}
	papers, err := c.papers()
	if err != nil {
		return nil, err
	}
	return &screen.World{Book: book, Register: rules.NewRegister(book, papers), Checklist: list, Tally: spent(c.Used)}, nil
}

func (c *rulesExplain) papers() ([]permits.Authority, error) {
	texts := [][]byte{packs.DemoAuthorities(), packs.Authorities()}
	if c.Papers != "" {
		data, err := os.ReadFile(c.Papers)
		if err != nil {
			return nil, err
		}
		texts = [][]byte{data}
	}
	var all []permits.Authority
	for _, text := range texts {
		var some []permits.Authority
		if err := json.Unmarshal(text, &some); err != nil {
			return nil, fmt.Errorf("the authorities: %w", err)
		}
		all = append(all, some...)
	}
	return all, nil
}

// spent takes so much of every number as used.
type spent int

func (s spent) Used(_ *permits.Authority, q *permits.Quota, _ string, _ permits.Date) (used, left int, known bool) {
	return int(s), q.Limit - int(s), true
}

func explain(out io.Writer, v *permits.Verdict) {
	fmt.Fprintf(out, "outcome  %s\nact      %s\nrule     %s: %s\n         %s (text: %s)\n", v.Outcome, v.Act, v.Deciding.Rule,
		v.Deciding.Because, v.Deciding.Cites, v.Deciding.SourceStatus)
	if v.Deciding.Contact != "" {
		fmt.Fprintf(out, "call     %s\n", v.Deciding.Contact)
	}
	fmt.Fprint(out, "\nlayers\n")
	for l := permits.Safety; l <= permits.Advice; l++ {
		n := 0
		for _, f := range v.Findings {
			if f.Layer == l {
				fmt.Fprintf(out, "  %-10s %-6s %s%s: %s [%s]\n", l, f.Effect, f.Rule, unsure(f), f.Because, f.Cites)
				n++
			}
		}
		if n == 0 {
			fmt.Fprintf(out, "  %-10s -      no rule of this layer has anything to say\n", l)
		}
	}
	for _, r := range v.Relies {
		fmt.Fprintf(out, "relies   %s on %s by %s\n", r.Law, r.Authority, r.Rule)
	}
	fmt.Fprint(out, "\nduties\n")
	for _, o := range v.Obligations {
		fmt.Fprintf(out, "  %-24s %-16s %s\n", o.Code, strings.TrimSpace(o.Due.At.String()+" "+o.Due.Word), strings.TrimSpace(strings.Join([]string{permits.DutyText(o.Code), o.To, o.Note}, " ")))
	}
	if len(v.Obligations) == 0 {
		fmt.Fprintln(out, "  none")
	}
}

func unsure(f permits.Finding) string {
	if !f.Unsure {
		return ""
	}
	if len(f.Missing) == 0 {
		return " (cannot be told)"
	}
	return " (not known: " + strings.Join(f.Missing, ", ") + ")"
}

// changes prints the missing facts that the answer hangs on, and every answer
// to a yes-or-no question that would give another outcome.
func changes(out io.Writer, f screen.Facts, w *screen.World, v *permits.Verdict) {
	fmt.Fprint(out, "\nwhat would change the answer\n")
	for _, c := range v.Changes {
		fmt.Fprintf(out, "  %s is not known; %s asks for it\n", c.Fact, c.Rule)
	}
	all := reflect.ValueOf(&f).Elem()
	answer := reflect.TypeFor[permits.Answer]()
	n := 0
	for i := range all.NumField() {
		field := all.Field(i)
		if field.Type() != answer {
			continue
		}
		name, _, _ := strings.Cut(all.Type().Field(i).Tag.Get("json"), ",")
		was := field.Int()
		for _, a := range []permits.Answer{permits.Yes, permits.No} {
			field.SetInt(int64(a))
			if got := screen.Check(&f, w); got.Outcome != v.Outcome {
				fmt.Fprintf(out, "  %s %s: %s by %s\n", name, yesNo(a), got.Outcome, got.Deciding.Rule)
				n++
			}
		}
		field.SetInt(was)
	}
	if n+len(v.Changes) == 0 {
		fmt.Fprintln(out, "  no answer to a yes-or-no question does")
	}
}

func yesNo(a permits.Answer) string {
	if a == permits.Yes {
		return "yes"
	}
	return "no"
}
