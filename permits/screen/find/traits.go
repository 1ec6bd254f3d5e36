package find

import (
	"slices"

	"wayfall/permits"
	"wayfall/sync/record"
)

// Traits are what the record of one animal surely says of sex, age and cause,
// from every value that stands in it. Of what two hands say differently nothing
// is known. A confirmed cause goes before any other.
func Traits(sexes, ages []string, causes, confirmed []record.Cause) permits.Traits {
	t := permits.Traits{Sex: agreed(sexes, permits.SexOf), Age: agreed(ages, permits.AgeOf)}
	cause := func(c record.Cause) string { return c.Cause }
	if t.Cause = agreed(confirmed, cause); t.Cause == "" && len(confirmed) == 0 {
		t.Cause = agreed(causes, cause)
	}
	return t
}

func agreed[T any](said []T, word func(T) string) string {
	out := ""
	for i, s := range said {
		w := word(s)
		if i > 0 && w != out {
			return ""
		}
		out = w
	}
	return out
}

// Joined brings together what several records of one animal say: one that says
// nothing does not speak against one that does.
func Joined(said []permits.Traits) permits.Traits {
	one := func(get func(permits.Traits) string) string {
		var words []string
		for _, t := range said {
			if w := get(t); w != "" && !slices.Contains(words, w) {
				words = append(words, w)
			}
		}
		if len(words) == 1 {
			return words[0]
		}
		return ""
	}
	return permits.Traits{
		Sex:   one(func(t permits.Traits) string { return t.Sex }),
		Age:   one(func(t permits.Traits) string { return t.Age }),
		Cause: one(func(t permits.Traits) string { return t.Cause }),
	}
}

// Told adds what a report says to what the record of its animal does.
func Told(of permits.Traits, r Report) permits.Traits {
	if of.Cause == "" && r.Cause != nil {
		of.Cause = r.Cause.Cause
	}
	of.Acquired = Acquired(r)
	return of
}

// Gone tells whether a disposition means that the institution never receives
// the animal, or no longer has it.
func Gone(disposition string) bool {
	switch disposition {
	case "agency", "transferred", "destroyed", "never_arrived", "vanished":
		return true
	}
	return false
}
