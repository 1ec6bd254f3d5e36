package intake

import (
	"wayfall/permits"
	"wayfall/permits/quota"
	facts "wayfall/permits/screen/find"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// body is what the record of an animal says of what some numbers ask.
type body struct {
	permits.Traits
	quota.Stay
}

func (b *body) said() bool { return b.Traits != (permits.Traits{}) }

// bodyOf reads the record of one animal. Of a trait on which two hands differ
// nothing is known.
func bodyOf(s merge.State) body {
	var b body
	b.Traits = facts.Traits(every(s.Field("sex").Values, fresh[string]), every(s.Field("age").Values, fresh[string]),
		every(s.Field("cause").Values, fresh[record.Cause]), every(s.Field("confirmed_cause").Values, fresh[record.Cause]))
	b.Away = facts.Gone(or(shown(s.Field("disposition"), fresh[string])))
	for _, c := range every(s.Field("custody").Events, fresh[record.Custody]) {
		if day := dayOf(c.At.Earliest); c.To == institution && (b.Received == 0 || day < b.Received) {
			b.Received = day
		}
	}
	return b
}

// institution is to whom an animal is handed over at the institution's door.
const institution = "institution"

func dayOf(local string) permits.Date {
	d, err := permits.ParseDate(local[:min(len(local), len("2006-01-02"))])
	if err != nil {
		return 0
	}
	return d
}

// asks is what the papers ask that a report alone does not say.
type asks struct {
	facts  bool // sex, age, how an animal was come by: the facts hold them
	traits bool // these or the cause: uses hold them
	stay   bool // when the institution received it
	finds  bool // what was found and left counts too
}

func asksOf(papers map[op.ID][]permits.Authority) (out asks) {
	for _, editions := range papers {
		for i := range editions {
			out.facts = out.facts || editions[i].AsksTraits()
			out.traits = out.traits || editions[i].AsksTraits()
			for _, q := range editions[i].Quotas {
				out.traits = out.traits || q.Narrow()
				out.stay = out.stay || q.CountsWhen == permits.AtDeposit
				out.finds = out.finds || q.CountsWhen == permits.AtFind
			}
		}
	}
	return out
}

// members are an animal and every record that was joined to it.
func (in *Intake) members(root op.ID, f *find) []*creature {
	var out []*creature
	if b := in.world.beasts[root]; b != nil {
		out = append(out, b)
	}
	for _, id := range f.animals {
		if b := in.world.beasts[id]; b != nil && id != root && in.root(id) == root {
			out = append(out, b)
		}
	}
	return out
}

// bodyOf is what all animals of a find surely are.
func (in *Intake) bodyOf(f *find) permits.Traits {
	if !in.world.asks.traits {
		return permits.Traits{}
	}
	var all []permits.Traits
	for _, root := range in.individuals(f) {
		all = append(all, in.traits(root, f))
	}
	return permits.TraitsOf(all...)
}

// traits are what one animal is, by every record of it that says so.
func (in *Intake) traits(root op.ID, f *find) permits.Traits {
	var said []permits.Traits
	for _, c := range in.members(root, f) {
		if c.body.said() {
			said = append(said, c.body.Traits)
		}
	}
	return facts.Joined(said)
}

// mark adds to a use what numbers may ask of its animal.
func (in *Intake) mark(u *quota.Use, f *find, animal op.ID) {
	if a := in.world.asks; !a.traits && !a.stay && !a.finds {
		return
	}
	u.Traits = facts.Told(in.traits(animal, f), f.tell)
	if at := or(f.tell.TakenAt).Earliest; at != "" {
		if m, err := permits.ParseMoment(at); err == nil {
			u.PickedUp = m
		}
	}
	for _, c := range in.members(animal, f) {
		u.Away = u.Away || c.body.Away
		if day := c.body.Received; day.Known() && (!u.Received.Known() || day < u.Received) {
			u.Received = day
		}
	}
}
