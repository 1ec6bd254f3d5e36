package rules

import "wayfall/permits"

// granted tells whether what the paper gives the person, on a day on which it
// lists the person, reaches every place and every animal that it may be about.
func (m *matching) granted(a *permits.Authority, on permits.Date) bool {
	for i := range a.Persons {
		g := &a.Persons[i]
		if g.On(m.c.Person, on) && m.within(g.Area) && m.among(g.Taxa) {
			return true
		}
	}
	return false
}

func (m *matching) within(areas []string) bool {
	if len(areas) == 0 {
		return true
	}
	for _, codes := range [2][]string{m.c.Jurisdictions, m.c.Possible} {
		for _, code := range codes {
			if !reaches(areas, code) {
				return false
			}
		}
	}
	return len(m.c.Jurisdictions)+len(m.c.Possible) > 0
}

func (m *matching) among(selectors []string) bool {
	if len(selectors) == 0 {
		return true
	}
	for _, t := range m.taxa {
		if rank(t, selectors) == 0 {
			return false
		}
	}
	return len(m.taxa) > 0
}
