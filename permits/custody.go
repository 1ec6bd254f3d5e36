package permits

import "strings"

// Handover is one hand-over of an animal, as an inspector asks for it.
type Handover struct {
	From, To  string
	At        Moment
	Place     string
	Seal      string // of the bag or box
	Condition string
	Signed    string // by whom
}

// Gaps says where a chain of hand-overs breaks, a sentence each: in the order
// in which it is given, which is that of the record. Of an animal that is held
// every hand-over has a time, a place, a seal and a signature; of any other
// only who handed it to whom is asked.
func Gaps(chain []Handover, held bool) []string {
	var out []string
	for i := range chain {
		h := &chain[i]
		if i > 0 {
			out = append(out, joint(&chain[i-1], h)...)
		}
		if strings.TrimSpace(h.To) == "" {
			out = append(out, "A hand-over"+on(h.At)+" does not say to whom.")
		}
		if !held {
			continue
		}
		var lacks []string
		for _, l := range [...]struct {
			is   bool
			what string
		}{{h.At.Known(), "when"}, {h.Place != "", "where"}, {h.Seal != "", "under which seal"}, {h.Signed != "", "who signed for it"}} {
			if !l.is {
				lacks = append(lacks, l.what)
			}
		}
		if len(lacks) > 0 {
			out = append(out, "The hand-over to "+named(h.To)+on(h.At)+" does not say "+And(lacks)+".")
		}
	}
	return out
}

// joint says what is wrong between two hand-overs that follow each other.
func joint(before, after *Handover) []string {
	var out []string
	if after.From != "" && before.To != "" && fold(after.From) != fold(before.To) {
		out = append(out, "Nobody says how it came from "+named(before.To)+" to "+named(after.From)+".")
	}
	if before.At.Known() && after.At.Known() && after.At.Before(before.At) {
		out = append(out, "It was handed to "+named(after.To)+on(after.At)+" before it came to "+named(before.To)+on(before.At)+".")
	}
	if before.Seal != "" && after.Seal != "" && before.Seal != after.Seal && after.Condition == "" {
		out = append(out, "The seal was "+before.Seal+" and is "+after.Seal+", and nobody says why.")
	}
	return out
}

func named(who string) string {
	if who = strings.TrimSpace(who); who == "" {
		return "somebody"
	}
	return who
}

func on(m Moment) string {
	if !m.Known() {
		return ""
	}
	return " on " + m.Long()
}
