package intake

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Shape says everything that is odd about one value taken by itself.
func Shape(f record.Field, v op.Value, m Moment) []Doubt {
	s := &shaper{field: f, moment: m}
	s.check(v)
	for i := range s.doubts {
		s.doubts[i].Kind, s.doubts[i].Field = f.Kind, f.Name
	}
	return s.doubts
}

type shaper struct {
	field  record.Field
	moment Moment
	doubts []Doubt
}

func (s *shaper) say(code Code, at, format string, args ...any) {
	s.doubts = append(s.doubts, Doubt{Code: code, At: at, Why: fmt.Sprintf(format, args...)})
}

// takes reads the value into target and notes members that are not known. It
// reports whether the value has the form at all.
func (s *shaper) takes(v op.Value, target any) bool {
	if err := v.Into(target); err != nil || v == "null" {
		s.say(BadValue, "", "%s is not written in the form this field has", quote(s.field.Label))
		return false
	}
	if known := namesOf(reflect.TypeOf(target).Elem()); known == nil || !stranger(v, known) || plainly(v, target) {
		return true // nearly all values end at the first or second
	}
	for _, name := range strangers(v, reflect.TypeOf(target).Elem()) {
		s.say(UnknownField, "/"+name, "%s carries %q, which this release does not know; it is kept as it is", quote(s.field.Label), name)
	}
	return true
}

// plainly reports whether encoding/json takes the value and finds nothing
// strange in it; to it, names differ by more than capitals.
func plainly(v op.Value, target any) bool {
	dec := json.NewDecoder(strings.NewReader(string(v)))
	dec.DisallowUnknownFields()
	return dec.Decode(target) == nil
}

// known holds the names of the members of each struct that was asked about.
var known sync.Map // reflect.Type to map[string]bool

// namesOf returns the names of a struct's members, nil for what is no struct.
func namesOf(t reflect.Type) map[string]bool {
	if t.Kind() != reflect.Struct {
		return nil
	}
	if names, ok := known.Load(t); ok {
		return names.(map[string]bool)
	}
	names := map[string]bool{}
	for _, f := range reflect.VisibleFields(t) {
		tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		names[tag] = true
	}
	known.Store(t, names)
	return names
}

// stranger reports whether the object v has a member of another name at the
// top. A name with an escape in it counts as one.
func stranger(v op.Value, names map[string]bool) bool {
	depth, from := 0, -1 // from is where the string begins that is being read
	for i := 0; i < len(v); i++ {
		switch c := v[i]; {
		case from >= 0 && c == '\\':
			i++
		case from >= 0 && c == '"':
			if depth == 1 && i+1 < len(v) && v[i+1] == ':' && !names[string(v[from:i])] {
				return true
			}
			from = -1
		case from >= 0:
		case c == '"':
			from = i + 1
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		}
	}
	return false
}

func quote(label string) string { return "“" + label + "”" }

// strangers returns the members of v that t has no field for.
func strangers(v op.Value, t reflect.Type) []string {
	var members map[string]json.RawMessage
	if t.Kind() != reflect.Struct || v.Into(&members) != nil {
		return nil
	}
	var out []string
	for name := range members {
		if !slices.ContainsFunc(reflect.VisibleFields(t), func(f reflect.StructField) bool {
			tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			return tag == name
		}) {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// check looks at the value as its shape asks. A shape without a case of its
// own is described by another package, or is new, and stays as it is.
func (s *shaper) check(v op.Value) {
	switch s.field.Shape {
	case record.Text:
		var t string
		s.takes(v, &t)
	case record.Number:
		s.number(v)
	case record.Code:
		s.word(v)
	case record.Link:
		s.link(v)
	case record.WhenV:
		read(s, v, func(w record.When) { s.when("", w) })
	case record.FixV:
		read(s, v, s.fix)
	case record.PlaceV:
		read(s, v, s.place)
	case record.TaxonV:
		read(s, v, func(d record.Determination) { s.certainty(d.Certainty) })
	case record.CauseV:
		read(s, v, s.cause)
	case record.StateV:
		read(s, v, s.condition)
	case record.LandV:
		read(s, v, s.land)
	case record.SignsV:
		read(s, v, s.signs)
	case record.PersonV:
		read(s, v, func(record.Person) {})
	case record.PhotoV:
		read(s, v, s.photo)
	case record.FreezeV:
		read(s, v, func(f record.Freeze) { s.when("/at", f.At) })
	default:
		s.rare(v)
	}
}

func (s *shaper) rare(v op.Value) {
	switch s.field.Shape {
	case record.BagV:
		read(s, v, func(record.Bag) {})
	case record.CustodyV:
		read(s, v, func(c record.Custody) { s.when("/at", c.At) })
	case record.RemarkV:
		read(s, v, func(record.Remark) {})
	case record.DutyV:
		read(s, v, func(d record.DutyDone) {
			s.when("/at", d.At)
			if d.Waives && d.Document == "" {
				s.say(BadValue, "/document", "a duty is waived by a document only, and none is named")
			}
		})
	case record.WithdrawV:
		read(s, v, func(record.Withdrawn) {})
	case record.VerdictV, record.DocV:
		var any map[string]json.RawMessage
		s.takes(v, &any)
	}
}

// read hands the value to fn when it has the form of T.
func read[T any](s *shaper, v op.Value, fn func(T)) {
	var t T
	if s.takes(v, &t) {
		fn(t)
	}
}

func (s *shaper) number(v op.Value) {
	var n float64
	if s.takes(v, &n) && s.field.Name == "count" && (n < 1 || n != math.Trunc(n)) {
		s.say(BadValue, "", "%v animals cannot have been found; a report is of one or more", n)
	}
}

func (s *shaper) word(v op.Value) {
	var w string
	if !s.takes(v, &w) {
		return
	}
	s.among("", w, record.Vocabulary(s.field.Kind, s.field.Name))
}

// among notes a word that a vocabulary does not have. An empty word was not
// said, and a field without a vocabulary takes any.
func (s *shaper) among(at, w string, words []record.Word) {
	if w == "" || len(words) == 0 {
		return
	}
	if !slices.ContainsFunc(words, func(known record.Word) bool { return known.Code == w }) {
		s.say(UnknownWord, at, "%q is not one of the words for %s", w, quote(s.field.Label))
	}
}

func (s *shaper) link(v op.Value) {
	var text string
	if !s.takes(v, &text) || text == "" {
		return
	}
	if _, err := op.ParseID(text); err != nil {
		s.say(BadValue, "", "%q is not the id of a record", text)
	}
}

func (s *shaper) certainty(c record.Certainty) {
	if !slices.Contains([]record.Certainty{"", record.Sure, record.Likely, record.Guess}, c) {
		s.say(UnknownWord, "/certainty", "%q is not a degree of certainty", c)
	}
}

func (s *shaper) cause(c record.Cause) {
	s.among("/cause", c.Cause, record.Causes)
	s.among("/basis", c.Basis, record.Bases)
	s.certainty(c.Certainty)
}

func (s *shaper) condition(c record.Condition) {
	if c.Decay != nil && (*c.Decay < 0 || *c.Decay > 4) {
		s.say(BadValue, "/decay", "decay runs from 0, just died, to 4, mummified; %d is neither", *c.Decay)
	}
}

func (s *shaper) land(l record.Land) {
	s.among("/permission", l.Permission, record.Permissions)
	s.among("/manager", l.Manager, record.Managers)
}

func (s *shaper) signs(g record.Signs) {
	for _, a := range []struct{ at, said string }{
		{"/crime", g.Crime}, {"/caused", g.Caused}, {"/planned", g.Planned}, {"/research", g.Research},
		{"/keep", g.Keep}, {"/permit_copy", g.PermitCopy}, {"/danger", g.Danger}, {"/in_hand", g.InHand},
		{"/others", g.Others},
	} {
		if a.said != "" && a.said != "yes" && a.said != "no" {
			s.say(UnknownWord, a.at, "the answer here is yes, no or nothing, not %q", a.said)
		}
	}
	if g.OthersNearby > 0 && g.Others == "no" {
		s.say(BadValue, "/others", "%d other animals were counted, yet none is said to lie there", g.OthersNearby)
	}
	if g.OthersNearby < 0 {
		s.say(BadValue, "/others_nearby", "%d other animals cannot have been seen", g.OthersNearby)
	}
}

// pictures are the types of photo that are opened here.
var pictures = []string{"image/jpeg", "image/png"}

func (s *shaper) photo(p record.Photo) {
	if !isDigest(p.SHA256) {
		s.say(PhotoBad, "/sha256", "a photo is named by its SHA-256, 64 small hexadecimal digits")
	}
	if p.Size <= 0 {
		s.say(PhotoBad, "/size", "a photo of %d bytes cannot be one", p.Size)
	}
	if !slices.Contains(pictures, p.Type) {
		s.say(PhotoBad, "/type", "%q is not a kind of picture that can be opened here; JPEG and PNG are", p.Type)
	}
}

func isDigest(hex string) bool {
	return len(hex) == 64 && strings.Trim(hex, "0123456789abcdef") == ""
}
