package rules

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// decoder reads text that the strict reader refused member by member, so that
// every fault is named and everything sound is still read.
type decoder struct {
	complain func(path, what string)
}

var (
	textReader = reflect.TypeFor[encoding.TextUnmarshaler]()
	jsonReader = reflect.TypeFor[json.Unmarshaler]()
	rawText    = reflect.TypeFor[json.RawMessage]()
)

// fill reads text into dst as far as it can be read.
func (d *decoder) fill(dst reflect.Value, text json.RawMessage, path string) {
	own := reflect.PointerTo(dst.Type())
	switch {
	case dst.Type() == rawText || own.Implements(textReader) || own.Implements(jsonReader):
		d.leaf(dst, text, path)
	case dst.Kind() == reflect.Pointer:
		if string(text) != "null" {
			dst.Set(reflect.New(dst.Type().Elem()))
			d.fill(dst.Elem(), text, path)
		}
	case dst.Kind() == reflect.Struct:
		d.members(dst, text, path)
	case dst.Kind() == reflect.Slice:
		d.list(dst, text, path)
	default:
		d.leaf(dst, text, path)
	}
}

func (d *decoder) leaf(dst reflect.Value, text json.RawMessage, path string) {
	fresh := reflect.New(dst.Type())
	if err := json.Unmarshal(text, fresh.Interface()); err != nil {
		d.complain(path, fmt.Sprintf("cannot be read: %s is %s", text, plain(err)))
		return
	}
	dst.Set(fresh.Elem())
}

func plain(err error) string {
	if wrong, ok := err.(*json.UnmarshalTypeError); ok {
		return "a " + wrong.Value + " where " + article(wrong.Type.String()) + " is wanted"
	}
	return err.Error()
}

func article(kind string) string {
	switch kind {
	case "bool":
		return "true or false"
	case "string":
		return "text"
	case "int", "int64":
		return "a whole number"
	}
	return kind
}

func (d *decoder) list(dst reflect.Value, text json.RawMessage, path string) {
	var items []json.RawMessage
	if err := json.Unmarshal(text, &items); err != nil {
		d.complain(path, "is not a list")
		return
	}
	out := reflect.MakeSlice(dst.Type(), len(items), len(items))
	for i, item := range items {
		at := out.Index(i)
		if at.Kind() == reflect.Pointer && string(item) == "null" {
			at.Set(reflect.New(at.Type().Elem()))
			d.complain(fmt.Sprintf("%s[%d]", path, i), "is null where an entry is wanted")
			continue
		}
		d.fill(at, item, fmt.Sprintf("%s[%d]", path, i))
	}
	dst.Set(out)
}

func (d *decoder) members(dst reflect.Value, text json.RawMessage, path string) {
	var got map[string]json.RawMessage
	if err := json.Unmarshal(text, &got); err != nil {
		d.complain(path, "is not an object")
		return
	}
	known := map[string]reflect.Value{}
	fields(dst, known)
	for _, name := range sorted(got) {
		at, ok := known[name]
		if !ok {
			d.complain(under(path, name), fmt.Sprintf("there is no member %q here", name))
			continue
		}
		d.fill(at, got[name], under(path, name))
	}
}

// fields gathers what a struct is written as, with what it embeds.
func fields(of reflect.Value, into map[string]reflect.Value) {
	for i := range of.NumField() {
		f := of.Type().Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous:
			fields(of.Field(i), into)
		case f.IsExported() && name != "" && name != "-":
			into[name] = of.Field(i)
		}
	}
}

func under(path, name string) string {
	if path == "" || path == "$" {
		return name
	}
	return path + "." + name
}

func sorted[V any](m map[string]V) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// Repeated returns the paths of members that stand twice in one object. The
// reader takes the last of them, which is not what anybody meant.
func Repeated(text []byte) []string {
	r := &repeats{dec: json.NewDecoder(bytes.NewReader(text))}
	r.value("")
	return r.found
}

type repeats struct {
	dec   *json.Decoder
	found []string
}

func (r *repeats) value(path string) bool {
	t, err := r.dec.Token()
	if err != nil {
		return false
	}
	switch t {
	case json.Delim('{'):
		return r.object(path)
	case json.Delim('['):
		for i := 0; r.dec.More(); i++ {
			if !r.value(fmt.Sprintf("%s[%d]", path, i)) {
				return false
			}
		}
		_, err = r.dec.Token()
	}
	return err == nil
}

func (r *repeats) object(path string) bool {
	seen := map[string]bool{}
	for r.dec.More() {
		t, err := r.dec.Token()
		name, ok := t.(string)
		if err != nil || !ok {
			return false
		}
		at := under(path, name)
		if seen[name] {
			r.found = append(r.found, at)
		}
		seen[name] = true
		if !r.value(at) {
			return false
		}
	}
	_, err := r.dec.Token()
	return err == nil
}

// hollow tells whether a list of the pack has a null for an entry.
func (p *Pack) hollow() bool {
	null := slices.Contains(p.Papers, nil) || slices.Contains(p.Retention, nil) || slices.Contains(p.Rules, nil) || slices.Contains(p.Laws, nil) || slices.Contains(p.Cautions, nil)
	for _, r := range p.Rules {
		null = null || r != nil && (slices.Contains(r.Duties, nil) || slices.Contains(r.InHandDuties, nil))
	}
	for _, w := range p.Laws {
		null = null || w != nil && slices.Contains(w.Covers, nil)
	}
	return null
}

// owner returns the name of the rule, law or other entry in which a path lies.
func (p *Pack) owner(path string) string {
	list, rest, _ := strings.Cut(path, "[")
	number, _, _ := strings.Cut(rest, "]")
	i, err := strconv.Atoi(number)
	switch {
	case err != nil:
	case list == "rules" && i < len(p.Rules):
		return string(p.Rules[i].ID)
	case list == "laws" && i < len(p.Laws):
		return p.Laws[i].ID
	case list == "authorisations" && i < len(p.Authorised):
		return p.Authorised[i].ID
	case list == "cautions" && i < len(p.Cautions):
		return p.Cautions[i].Code
	}
	return ""
}

// twice looks for laws, authorisations and cautions that share a name.
func (l *loader) twice() {
	look := func(list string, n int, name func(i int) string) {
		seen := map[string]bool{}
		for i := range n {
			if id := name(i); id != "" && seen[id] {
				l.complain(id, fmt.Sprintf("%s[%d]", list, i), "the pack has two of this name in %s", list)
			} else {
				seen[id] = true
			}
		}
	}
	p := l.pack
	look("laws", len(p.Laws), func(i int) string { return p.Laws[i].ID })
	look("authorisations", len(p.Authorised), func(i int) string { return p.Authorised[i].ID })
	look("cautions", len(p.Cautions), func(i int) string { return p.Cautions[i].Code })
}
