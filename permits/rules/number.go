package rules

import "wayfall/permits"

// near is a number from whose warning on an animal counts.
type near struct {
	quota *permits.Quota
	taxon *permits.Taxon
	used  int // this one included
}

// quota asks for every number the paper states, for every plausible taxon. A
// number to which the animal may belong is asked as if it did.
func (m *matching) quota(f *fit) {
	var full []*permits.Quota // that it may belong to
	for i := range f.authority.Quotas {
		q := &f.authority.Quotas[i]
		reach := q.Concerns(m.c.Material, &m.c.Traits)
		if reach == permits.No || q.Unlimited && q.WarnAt == 0 {
			continue
		}
		taxa := m.counted(q)
		for _, t := range taxa {
			if m.spend(f, q, t, reach) && (len(full) == 0 || full[len(full)-1] != q) {
				full = append(full, q)
			}
			if q.Per == "all" || f.misses != 0 {
				break
			}
		}
	}
	if len(m.taxa) == 1 && m.whateverItIs(full) {
		f.note(missQuota, permits.No, "")
	}
}

// counted are the plausible taxa that the number counts.
func (m *matching) counted(q *permits.Quota) []*permits.Taxon {
	if len(q.Taxa)+len(q.ExemptTaxa) == 0 {
		return m.taxa
	}
	var out []*permits.Taxon
	for _, t := range m.taxa {
		if (len(q.Taxa) == 0 || rank(t, q.Taxa) > 0) && !q.Exempts(t) {
			out = append(out, t)
		}
	}
	return out
}

// spend asks for one number and one taxon. It returns whether the number is
// full for an animal that only may belong to it.
func (m *matching) spend(f *fit, q *permits.Quota, t *permits.Taxon, reach permits.Answer) (full bool) {
	used, left, known := 0, 0, false
	if m.c.Tally != nil && m.c.at.Known() {
		used, left, known = m.c.Tally.Used(f.authority, q, t.Name, m.c.at.From.Date)
	}
	if q.Unlimited {
		left = m.c.Count
	}
	switch {
	case q.Unlimited && (!known || m.c.Count < 1): // a warning alone stands in nobody's way
	case !known || m.c.Count < 1:
		f.note(missQuota, permits.Unknown, "quota")
	case left >= m.c.Count:
		if from := q.WarnsFrom(); from > 0 && used+m.c.Count >= from {
			f.near = append(f.near, near{q, t, used + m.c.Count})
		}
	default:
		f.used, f.limit = used, q.Limit
		switch {
		case len(m.taxa) > 1:
			f.note(missQuota, permits.Unknown, "taxon")
		case reach == permits.Yes:
			f.note(missQuota, permits.No, "")
		default:
			for _, fact := range q.Open(m.c.Material, &m.c.Traits) {
				f.note(missQuota, permits.Unknown, fact)
			}
			return true
		}
	}
	return false
}

// whateverItIs tells whether the full numbers leave nothing that the animal
// could be: a number for females and one for males, both used up.
func (m *matching) whateverItIs(full []*permits.Quota) bool {
	if len(full) < 2 {
		return false
	}
	for _, sex := range sureOr(m.c.Traits.Sex, permits.Sexes) {
		for _, age := range sureOr(m.c.Traits.Age, permits.Ages) {
			for _, how := range sureOr(m.c.Traits.Acquired, permits.Acquisitions) {
				t := permits.Traits{Sex: sex, Age: age, Cause: m.c.Traits.Cause, Acquired: how}
				if !m.stopped(full, &t) {
					return false
				}
			}
		}
	}
	return true
}

func (m *matching) stopped(full []*permits.Quota, t *permits.Traits) bool {
	for _, q := range full {
		if q.Concerns(m.c.Material, t) == permits.Yes {
			return true
		}
	}
	return false
}

func sureOr(word string, all []string) []string {
	if word != "" {
		return []string{word}
	}
	return all
}

// warn adds what the numbers of a paper that covers the case say before they
// are full. It stands in nobody's way.
func (e *evaluation) warn(w *Law, best fit) {
	r := e.book.roles.near
	if r == nil {
		return
	}
	for _, n := range best.near {
		f := best
		f.used, f.limit, f.number = n.used, n.quota.Limit, &n
		out := e.entry(r, r.Effect, false, nil, f)
		out.Law, out.Weight = w.ID, -1 // it never decides
		e.found = append(e.found, out)
	}
}

// numberText says in words what a number counts: "Common Loon", "Common Loon,
// females" or, of several kinds together, its name.
func (e *evaluation) numberText(n *near) string {
	if n == nil {
		return ""
	}
	words := n.quota.ID
	if n.quota.Per == "taxon" && n.taxon != nil {
		words = n.taxon.English
	}
	if kinds := n.quota.Kinds(); kinds != "" {
		words += " (" + kinds + ")"
	}
	return words
}
