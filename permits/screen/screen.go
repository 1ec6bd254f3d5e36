package screen

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"wayfall/permits"
	"wayfall/permits/rules"
)

// World is what facts are judged against.
type World struct {
	Book      *rules.Book
	Register  *rules.Register
	Checklist *permits.Checklist
	Tally     rules.Tally // nil: no number can be told to be free
	Ground    *Ground     // the drawn units that told the facts; nil: none
}

// Ground says which drawing of units of ground was looked at, as a verdict
// names its packs.
type Ground struct {
	permits.PackRef
	Sample  bool
	Notice  string
	Keepers []Keeper // who looks after each drawing of a unit
}

// Keeper is who looks after a unit of ground, from one day to another, and by
// which working days and clock.
type Keeper struct {
	Unit, Name string
	Contact    string
	Days       *permits.Calendar // nil: those of the place around it
	From, To   permits.Date      // both included; unknown: no bound
}

// keeper returns who looks after the unit that the facts name, nil if none is
// drawn under that name on the day.
func (g *Ground) keeper(f *Facts) *Keeper {
	if g == nil || f.LandName == "" {
		return nil
	}
	on := f.Found.From.Date
	if !on.Known() {
		on = f.Possessed.From.Date
	}
	var found *Keeper
	for i := range g.Keepers {
		k := &g.Keepers[i]
		if k.Name == f.LandName && (found == nil || k.From <= on && (!k.To.Known() || on <= k.To)) {
			found = k
		}
	}
	return found
}

// Check judges one find or act.
func Check(f *Facts, w *World) permits.Verdict {
	return check(f, w, w.Tally)
}

// Visit judges several finds in order, each with the numbers that the earlier
// ones would take. Every find has its own verdict.
func Visit(finds []Facts, w *World) []permits.Verdict {
	extra := &visitTally{inner: w.Tally}
	out := make([]permits.Verdict, len(finds))
	for i := range finds {
		out[i] = check(&finds[i], w, extra)
		extra.take(&finds[i], &out[i], w)
	}
	return out
}

func check(f *Facts, w *World, tally rules.Tally) permits.Verdict {
	c := caseOf(f, w, tally)
	v := w.Book.Evaluate(&c, w.Register)
	sign(f, w, &v)
	return v
}

// caseOf is the find as the rules see it.
func caseOf(f *Facts, w *World, tally rules.Tally) rules.Case {
	c := rules.Case{
		Possessed: f.Possessed, Found: f.Found, Judged: f.JudgedAt,
		Person: f.Person, Public: f.Role == "public", Activity: f.Activity, Material: f.Material,
		Cause: f.Cause, Count: f.Count, InHand: f.InHand, Traits: permits.Traits{Sex: f.Sex, Age: f.Age, Acquired: f.Acquired},
		Jurisdictions: f.Jurisdictions, Possible: f.JurisdictionsPossible, Units: f.Units,
		RenewalFiled: f.RenewalFiled, RenewalComplete: f.RenewalComplete, Relied: f.Authority, Tally: tally,
		Manager: f.LandManager, LandName: f.LandName,
	}
	identify(f, w.Checklist, &c)
	if k := w.Ground.keeper(f); k != nil {
		c.LandContact = k.Contact
		if contains(f.Units, k.Unit) { // where it may lie beside the unit, the place around it decides
			c.LandDays = k.Days
		}
	}
	answers(f, &c.In)
	words(f, &c.In)
	papers(f, w, &c)
	return c
}

// sign adds to a verdict what the rules do not know of.
func sign(f *Facts, w *World, v *permits.Verdict) {
	v.Inputs = Digest(f)
	if w.Checklist.Sample {
		sampled(v, w.Checklist.Notice)
	}
	if g := w.Ground; g != nil {
		v.Packs = append(v.Packs[:len(v.Packs):len(v.Packs)], g.PackRef)
		if g.Sample {
			sampled(v, g.Notice)
		}
	}
	if f.Authority != "" {
		propose(f, v)
	}
}

// sampled marks a verdict that rests on a sample.
func sampled(v *permits.Verdict, notice string) {
	v.Sample = true
	if v.Notice == "" {
		v.Notice = notice
	}
}

// propose names the authority that covers the find where the person named
// another one.
func propose(f *Facts, v *permits.Verdict) {
	for _, r := range v.Relies {
		if r.Authority == f.Authority {
			return
		}
	}
	for _, r := range v.Relies {
		if r.Authority != "" {
			v.Proposes = append(v.Proposes, r.Authority)
		}
	}
}

// Digest returns the SHA-256 of the facts in their JSON form, in hex.
func Digest(f *Facts) string {
	var room [1 << 11]byte
	sum := sha256.Sum256(f.append(room[:0]))
	return hex.EncodeToString(sum[:])
}

// identify works out which taxa the name may stand for.
func identify(f *Facts, list *permits.Checklist, c *rules.Case) {
	if f.Taxon == "" {
		c.TaxonText = ""
		return
	}
	where := f.Jurisdictions
	if len(where) == 0 {
		where = f.JurisdictionsPossible
	}
	sure := f.Identified == permits.Yes
	c.Plausible = list.Resolve(f.Taxon, sure, where)
	c.TaxonText = f.Taxon
	if t := list.Taxon(f.Taxon); t != nil {
		c.TaxonText = t.English
	}
	if !sure {
		for _, name := range f.Plausible {
			c.Plausible = merge(c.Plausible, list.Resolve(name, false, where))
		}
	}
	if len(c.Plausible.Taxa) == 0 {
		c.TaxonText = "“" + f.Taxon + "”" // as somebody wrote it
	} else {
		c.In[rules.Identified] = rules.Bool(sure && c.Plausible.Single())
	}
	c.Plausible = c.Plausible.On(c.At(), where)
}

func merge(a, b permits.Plausible) permits.Plausible {
	out := permits.Plausible{Taxa: a.Taxa, Complete: a.Complete && b.Complete}
	for _, t := range b.Taxa {
		seen := false
		for _, o := range out.Taxa {
			seen = seen || o == t
		}
		if !seen {
			out.Taxa = append(out.Taxa[:len(out.Taxa):len(out.Taxa)], t)
		}
	}
	return out
}

func answers(f *Facts, in *rules.Inputs) {
	set := func(fact rules.Fact, a permits.Answer) {
		if a.Known() {
			in[fact] = rules.Bool(a == permits.Yes)
		}
	}
	set(rules.OfficialDuty, f.OfficialDuty)
	set(rules.Designated, f.Designated)
	set(rules.SoftTissue, f.SoftTissue)
	set(rules.NestActive, f.NestActive)
	set(rules.EggsViable, f.EggsViable)
	set(rules.SuspectedCrime, f.SuspectedCrime)
	set(rules.SuspectedPoison, f.SuspectedPoison)
	set(rules.EvidenceReleased, f.EvidenceReleased)
	set(rules.DieoffReleased, f.DieoffReleased)
	set(rules.CausedDeath, f.CausedDeath)
	set(rules.Euthanised, f.Euthanised)
	set(rules.Opportunistic, f.Opportunistic)
	set(rules.Research, f.Research)
	set(rules.WantsToKeep, f.WantsToKeep)
	set(rules.Sale, permits.AnswerOf(f.Sale == permits.Yes))
	set(rules.LawfulHunt, f.LawfulHunt)
	set(rules.OpenSeason, f.OpenSeason)
	set(rules.InTrafficLane, f.TrafficLane)
	set(rules.OtherHazard, f.OtherHazard)
	set(rules.PermitCopy, f.PermitCopy)
	set(rules.RecipientAuthorised, f.RecipientAuthorised)
	set(rules.BothRegistered, f.BothRegistered)
	set(rules.Commercial, f.Commercial)
	set(rules.DepositMade, f.DepositMade)
	set(rules.CrossesBorder, f.CrossesBorder)
	set(rules.LawfullyHeld, f.LawfullyHeld)
}

func words(f *Facts, in *rules.Inputs) {
	in[rules.Role] = rules.Word(f.Role)
	in[rules.Band] = rules.Word(f.Band)
	in[rules.LandManager] = rules.Word(f.LandManager)
	if f.LandManager == "" && len(f.LandManagersPossible) > 0 {
		in[rules.LandManager] = rules.Set(nil, f.LandManagersPossible)
	}
	in[rules.LandDefault] = rules.Word(f.LandDefault)
	switch {
	case len(f.LandDefaultsPossible) > 0:
		in[rules.LandDefault] = rules.Set(nil, f.LandDefaultsPossible)
	case f.LandDefault == "":
		in[rules.LandDefault] = rules.Word("none")
	}
	in[rules.StorageManager] = rules.Word(f.StorageManager)
	in[rules.Consent] = rules.Word(string(f.Consent))
	if f.StruckIn != "" && len(f.Jurisdictions) > 0 {
		in[rules.StruckElsewhere] = rules.Bool(!contains(f.Jurisdictions, f.StruckIn))
	}
	if f.EventCount > 0 {
		in[rules.EventCount] = rules.Number(int64(max(f.EventCount, f.Count)))
		if f.Count < 1 {
			in[rules.EventCount] = rules.Between(int64(f.EventCount), math.MaxInt32)
		}
	}
	if f.OfflineDevices > 0 {
		in[rules.OfflineDevices] = rules.Number(int64(f.OfflineDevices))
	} else {
		in[rules.OfflineDevices] = rules.Number(0)
	}
	if f.ShoreMetres != nil {
		in[rules.ShoreMetres] = rules.Number(int64(*f.ShoreMetres))
	}
	if f.ActivityCount != nil {
		in[rules.ActivityCount] = rules.Number(int64(*f.ActivityCount))
	}
}

// papers derives the facts that follow from authorities.
func papers(f *Facts, w *World, c *rules.Case) {
	at := c.At()
	barred := w.Register.Barred(f.Person, at)
	if f.Barred == permits.Yes {
		barred = permits.Yes
	}
	if barred.Known() {
		c.In[rules.Barred] = rules.Bool(barred == permits.Yes)
	}
	c.In[rules.LandAuthority] = rules.Bool(at.Known() && w.Register.LandPermission(f.Person, f.Units, f.LandManager, at))
	if f.Authority == "" {
		return
	}
	a := w.Register.Authority(f.Authority, at.To.Date)
	if a == nil {
		return
	}
	c.In[rules.ReliedKind] = rules.Word(a.Kind)
	if end := a.End(); end.Known() && f.JudgedAt.Known() {
		c.In[rules.DaysSinceExpiry] = rules.Number(int64(end.DaysUntil(f.JudgedAt.Date)))
	}
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}

// visitTally adds what a visit has already taken to another tally.
type visitTally struct {
	inner rules.Tally
	taken []taken
}

type taken struct {
	authority string
	taxon     *permits.Taxon
	count     int
}

// take counts a find against every authority it relied on. One that is in the
// hand counts even where it went over.
func (v *visitTally) take(f *Facts, verdict *permits.Verdict, w *World) {
	if !verdict.Outcome.Permits() && f.InHand != permits.Yes {
		return
	}
	t := w.Checklist.Taxon(f.Taxon)
	seen := ""
	for _, r := range verdict.Relies {
		if r.Authority != "" && r.Authority != seen {
			seen = r.Authority
			v.taken = append(v.taken, taken{r.Authority, t, max(f.Count, 1)})
		}
	}
	if a := verdict.Deciding.Authority; verdict.Deciding.Layer == permits.QuotaLayer {
		v.taken = append(v.taken, taken{a, t, max(f.Count, 1)})
	}
}

// Used adds the visit's finds to what was used before it.
func (v *visitTally) Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	if v.inner == nil {
		return 0, 0, false
	}
	used, left, known = v.inner.Used(a, q, taxon, on)
	for _, k := range v.taken {
		if k.authority != a.ID || q.Per == "taxon" && (k.taxon == nil || k.taxon.Name != taxon) ||
			q.Per == "list" && !inList(k.taxon, q.Taxa) {
			continue
		}
		used, left = used+k.count, left-k.count
	}
	return used, left, known
}

func inList(t *permits.Taxon, selectors []string) bool {
	if t == nil {
		return true
	}
	for _, s := range selectors {
		if t.Is(s) {
			return true
		}
	}
	return len(selectors) == 0
}
