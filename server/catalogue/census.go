package catalogue

import (
	"slices"

	"wayfall/permits"
	"wayfall/permits/compliance"
	"wayfall/permits/quota"
	"wayfall/permits/screen/find"
)

// Cover is how an animal stands to authorities: those that it concerns, and
// what the verdict in force says of each.
type Cover struct {
	Permits bool // the verdict lets it be taken, or nothing has been judged yet
	Judged  bool
	On      []OnPaper
}

// OnPaper is how an animal stands to one authority, as Take.Under and
// Take.Covered say it.
type OnPaper struct {
	Authority string
	Covered   bool
	Near      bool // something stands in the way of it
}

// On returns how an animal stands to the authority; ok is whether it concerns
// it at all.
func (c *Cover) of(authority string) (on OnPaper, ok bool) {
	for _, p := range c.On {
		if p.Authority == authority {
			return p, true
		}
	}
	return OnPaper{}, false
}

// Under is Take.Under of every animal with this cover.
func (c *Cover) Under(authority string) bool { _, ok := c.of(authority); return ok }

// Covered is Take.Covered of every animal with this cover.
func (c *Cover) Covered(authority string) bool { on, _ := c.of(authority); return on.Covered }

// Census is every canonical animal that is not withdrawn and of which there is
// a report, in small, at one place in the log. All[i] is the animal i; Cover is
// a place in Covers.
type Census struct {
	quota.Slips
	Place  Place
	Covers []Cover
}

// CoverOf is how the animal of a slip stands to authorities.
func (t *Census) CoverOf(s *quota.Slip) *Cover { return &t.Covers[s.Cover] }

// Tallied returns a Census of Takes: the animal of each slip is the place of
// its Take in the list.
func Tallied(takes []Take, place Place) *Census {
	m := newMint()
	t := &Census{Place: place}
	for i := range takes {
		s := m.slip(&takes[i])
		s.Animal = uint32(i)
		t.All = append(t.All, s)
	}
	t.Words, t.Covers, t.Traits = m.words, m.covers, m.traits
	t.Before = func(a, b uint32) bool { return takes[a].ID < takes[b].ID }
	return t
}

// mint makes slips: it knows the words and the covers that were used so far.
type mint struct {
	words   []string
	wordAt  map[string]quota.Word
	traits  []permits.Traits
	traitAt map[permits.Traits]quota.Word
	covers  []Cover
	coverAt map[string]uint32
	key     []byte
}

func newMint() mint {
	return mint{words: []string{""}, wordAt: map[string]quota.Word{"": 0}, coverAt: map[string]uint32{},
		traits: make([]permits.Traits, 1), traitAt: map[permits.Traits]quota.Word{{}: 0}}
}

func (m *mint) trait(t permits.Traits) quota.Word {
	at, ok := m.traitAt[t]
	if !ok {
		at = quota.Word(len(m.traits))
		m.traits = append(m.traits, t)
		m.traitAt[t] = at
	}
	return at
}

func (m *mint) word(s string) quota.Word {
	w, ok := m.wordAt[s]
	if !ok {
		w = quota.Word(len(m.words))
		m.words = append(m.words, s)
		m.wordAt[s] = w
	}
	return w
}

// slip is a Take in small.
func (m *mint) slip(t *Take) quota.Slip {
	s := quota.Slip{Found: t.moment(), Day: t.Day, Taxon: m.word(t.Taxon), Material: m.word(t.Material), State: m.word(t.State),
		County: m.word(t.County), Person: m.word(t.Person), Fate: t.Fate().Small(), Cover: m.cover(t), Traits: m.trait(t.Traits), Received: dayOf(t.Received)}
	if t.Taxon != "" { // two people's words for something nobody has named are not two species
		s.Name = m.word(t.Name)
	}
	for _, mark := range [...]struct {
		is   bool
		mark quota.Marks
	}{{t.Taken(), quota.Taken}, {t.Taxon == "" || !t.Judged, quota.Provisional}, {t.Sample, quota.Sample}, {t.Disposition == "agency", quota.Agency}, {find.Gone(t.Disposition), quota.Away}} {
		if mark.is {
			s.Marks |= mark.mark
		}
	}
	for i := range t.Dated {
		d := &t.Dated[i]
		if d.Done {
			s.Marks |= quota.LateDone
		} else if day := dayOf(d.Due); day.Known() && (s.Due == 0 || day < s.Due) {
			s.Due = day
		}
	}
	for _, h := range t.Handed {
		if h.Day.Known() && (s.Handed[0] == 0 || h.Day < s.Handed[0]) {
			s.Handed[0] = h.Day
		}
		s.Handed[1] = max(s.Handed[1], h.Day)
	}
	return s
}

// cover finds the cover of a Take among those that were seen, or enters it.
func (m *mint) cover(t *Take) uint32 {
	c := Cover{Permits: !t.Judged || t.Outcome.Permits(), Judged: t.Judged}
	for _, list := range [...][]string{t.Relies, t.Near, {t.Named}} {
		for _, id := range list {
			if t.Under(id) && !c.Under(id) {
				c.On = append(c.On, OnPaper{id, t.Covered(id), slices.Contains(t.Near, id)})
			}
		}
	}
	key := append(m.key[:0], bit(c.Permits), bit(c.Judged))
	for _, p := range c.On {
		key = append(append(key, p.Authority...), 0, bit(p.Covered), bit(p.Near))
	}
	m.key = key
	at, ok := m.coverAt[string(key)]
	if !ok {
		at = uint32(len(m.covers))
		m.covers = append(m.covers, c)
		m.coverAt[string(key)] = at
	}
	return at
}

func bit(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// moment is when the animal was picked up, to the minute when that is known.
func (t *Take) moment() permits.Moment {
	local := t.Found.Earliest
	if t.Found.Precision == "minute" && len(local) >= 16 && t.Day.Known() && local[:10] == t.Day.String() {
		return t.Day.At(int(local[11]-'0')*10+int(local[12]-'0'), int(local[14]-'0')*10+int(local[15]-'0'))
	}
	return permits.Moment{Date: t.Day}
}

// Fate says where an animal is, as a permit asks.
func (t *Take) Fate() compliance.Fate {
	switch t.Disposition {
	case "received":
		return compliance.Kept
	case "transferred", "agency":
		return compliance.Transferred
	case "destroyed":
		return compliance.Destroyed
	case "never_arrived", "vanished":
		return compliance.Lost
	}
	return compliance.Pending
}

// Chosen is Count over a list of Takes.
func Chosen(takes []Take, place Place, choose func(*Census) ([]uint32, error)) ([]Take, error) {
	want, err := choose(Tallied(takes, place))
	if err != nil {
		return nil, err
	}
	out := make([]Take, len(want))
	for i, at := range want {
		out[i] = takes[at]
	}
	return out, nil
}
