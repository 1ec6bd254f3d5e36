package rules

import "wayfall/permits"

// Case is one animal, or one act, as the rules see it. The zero value of every
// field is unknown.
type Case struct {
	In        Inputs // taxon facts, the date and what the engine derives are filled in by Evaluate
	Possessed permits.When
	Found     permits.When
	Judged    permits.Moment // when the question is asked

	Person   string
	Public   bool // known to be nobody whom an institution lists
	Activity string
	Material string
	Cause    string
	Count    int
	Traits   permits.Traits // of the animal; its cause is Cause
	InHand   permits.Answer

	Plausible permits.Plausible

	Jurisdictions []string // where the find surely lies, the finest codes
	Possible      []string // where it may lie, if that cannot be told
	Units         []string // areas other than political ones where it surely lies

	RenewalFiled    permits.Date
	RenewalComplete permits.Answer
	Relied          string // the authority that the person names, if any
	Tally           Tally

	TaxonText string // the animal's common name, or what somebody wrote
	Manager   string // the class of who controls the ground
	LandName  string // the unit of ground, by its name
	// LandContact is whom to call about the unit; LandDays are the working days
	// and the clock by which it counts, nil for those of the place around it.
	LandContact string
	LandDays    *permits.Calendar

	placeText string // the one place a finding is about
	at        permits.When
}

// At returns the time by which the case is judged: when the animal was taken,
// or when it was found if it is known to lie there still.
func (c *Case) At() permits.When {
	if !c.Possessed.Known() && c.InHand == permits.No {
		return c.Found
	}
	return c.Possessed
}

// answer reads a yes-or-no fact.
func (c *Case) answer(f Fact) permits.Answer {
	v := &c.In[f]
	if v.kind != boolKind {
		return permits.Unknown
	}
	return permits.AnswerOf(v.yes)
}

// prepare derives the facts that follow from others.
func (c *Case) prepare() {
	c.at = c.At()
	c.Traits.Cause = c.Cause
	if c.at.Known() {
		c.In[PossessedOn] = Between(int64(c.at.From.Date), int64(c.at.To.Date))
	}
	setTaxa(&c.In, c.Plausible)
	c.In[Activity] = Word(c.Activity)
	c.In[Material] = Word(c.Material)
	c.In[Cause] = Word(c.Cause)
	if c.Count > 0 {
		c.In[Count] = Number(int64(c.Count))
	}
	if c.InHand.Known() {
		c.In[InHand] = Bool(c.InHand == permits.Yes)
	}
}

// setTaxa fills in the facts about the taxon. Of several plausible taxa only
// what all share is sure.
func setTaxa(in *Inputs, p permits.Plausible) {
	if len(p.Taxa) == 0 {
		return
	}
	one := p.Taxa[0]
	if len(p.Taxa) == 1 && p.Complete {
		in[Species], in[Genus], in[Family] = Word(one.Name), Word(one.Genus), Word(one.Family)
		in[Order], in[Class] = Word(one.Order), Word(one.Class)
		in[Groups] = Set(one.Groups, one.Groups)
		return
	}
	in[Species] = spread(p, func(t *permits.Taxon) []string { return []string{t.Name} })
	in[Genus] = spread(p, func(t *permits.Taxon) []string { return []string{t.Genus} })
	in[Family] = spread(p, func(t *permits.Taxon) []string { return []string{t.Family} })
	in[Order] = spread(p, func(t *permits.Taxon) []string { return []string{t.Order} })
	in[Class] = spread(p, func(t *permits.Taxon) []string { return []string{t.Class} })
	in[Groups] = spread(p, func(t *permits.Taxon) []string { return t.Groups })
}

func spread(p permits.Plausible, words func(*permits.Taxon) []string) Value {
	all, any := words(p.Taxa[0]), []string(nil)
	for _, t := range p.Taxa {
		var shared []string
		for _, w := range words(t) {
			if holds(all, w) {
				shared = append(shared, w)
			}
			if !holds(any, w) {
				any = append(any, w)
			}
		}
		all = shared
	}
	return Set(all, any)
}
