package api

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"
)

// strict reads one JSON value into v and names every member v does not have,
// every member written twice and every value of another type by its pointer,
// all in one problem, so that a caller mends them in one go.
func strict(body []byte, v any) error {
	if !utf8.Valid(body) {
		return problem(http.StatusBadRequest, "not_json", "the body is not text in UTF-8")
	}
	w := walker{dec: json.NewDecoder(bytes.NewReader(body))}
	w.dec.UseNumber()
	if err := w.value("", reflect.TypeOf(v).Elem()); err != nil {
		return notJSON(err)
	}
	if _, err := w.dec.Token(); !errors.Is(err, io.EOF) {
		return problem(http.StatusBadRequest, "not_json", "more follows after the end of the JSON value")
	}
	if len(w.wrong) > 0 {
		p := problem(http.StatusUnprocessableEntity, "form", "%d members of the body cannot be read as they are", len(w.wrong))
		if len(w.wrong) == 1 {
			p.Detail = w.wrong[0].Detail
		}
		p.Errors = w.wrong
		return p
	}
	if err := json.Unmarshal(body, v); err != nil {
		return notFitting(err)
	}
	return nil
}

func notJSON(err error) *Problem {
	var at *json.SyntaxError
	if errors.As(err, &at) {
		return problem(http.StatusBadRequest, "not_json", "the body is not JSON: byte %d does not belong there", at.Offset)
	}
	return problem(http.StatusBadRequest, "not_json", "the body is not complete JSON")
}

func notFitting(err error) *Problem {
	p := problem(http.StatusUnprocessableEntity, "form", "a member of the body has a value that does not fit")
	var at *json.UnmarshalTypeError
	if errors.As(err, &at) {
		p.Errors = []Wrong{{Pointer: "/" + strings.ReplaceAll(at.Field, ".", "/"), Detail: "a " + at.Value + " does not fit here"}}
	}
	return p
}

type walker struct {
	dec   *json.Decoder
	depth int
	wrong []Wrong
}

// deepest bounds nesting far above what any body here has.
const deepest = 64

func (w *walker) say(at, format string, args ...any) {
	if len(w.wrong) < 50 {
		w.wrong = append(w.wrong, Wrong{Pointer: at, Detail: fmt.Sprintf(format, args...)})
	}
}

// value reads one value that should fit t; a nil t fits anything.
func (w *walker) value(at string, t reflect.Type) error {
	tok, err := w.dec.Token()
	if err != nil {
		return err
	}
	t = plain(t)
	switch v := tok.(type) {
	case json.Delim:
		if w.depth++; w.depth > deepest {
			return errors.New("nested too deeply")
		}
		defer func() { w.depth-- }()
		if v == '{' {
			return w.object(at, t)
		}
		return w.array(at, t)
	case nil:
		if t != nil {
			w.say(at, "null does not fit here; leave out what is not known")
		}
	case bool:
		w.fits(at, t, "yes or no", reflect.Bool)
	case string:
		w.fits(at, t, "a text", reflect.String)
	case json.Number:
		w.fits(at, t, "a number", reflect.Int, reflect.Int64, reflect.Uint, reflect.Uint64, reflect.Float64)
		w.number(at, t, v)
	}
	return nil
}

func (w *walker) number(at string, t reflect.Type, v json.Number) {
	if _, err := v.Float64(); err != nil {
		w.say(at, "the number is beyond what a double can hold")
		return
	}
	if t == nil || t.Kind() == reflect.Float64 {
		return
	}
	if _, err := strconv.ParseInt(v.String(), 10, 64); err != nil && t.Kind() != reflect.String {
		w.say(at, "a whole number is expected here")
	}
}

// plain strips pointers; types that read themselves fit anything.
func plain(t reflect.Type) reflect.Type {
	for t != nil && t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t == nil || t.Kind() == reflect.Interface || reflect.PointerTo(t).Implements(reflect.TypeFor[json.Unmarshaler]()) {
		return nil
	}
	if reflect.PointerTo(t).Implements(reflect.TypeFor[encoding.TextUnmarshaler]()) {
		return reflect.TypeFor[string]() // a date, a word: written as a text
	}
	return t
}

func (w *walker) fits(at string, t reflect.Type, what string, kinds ...reflect.Kind) {
	if t == nil {
		return
	}
	for _, k := range kinds {
		if t.Kind() == k {
			return
		}
	}
	w.say(at, "%s does not fit here; %s is expected", what, expected(t))
}

func expected(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Struct, reflect.Map:
		return "an object"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.String:
		return "a text"
	case reflect.Bool:
		return "true or false"
	}
	return "a number"
}

func (w *walker) array(at string, t reflect.Type) error {
	var elem reflect.Type
	switch {
	case t == nil:
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		elem = t.Elem()
	default:
		w.say(at, "a list does not fit here; %s is expected", expected(t))
	}
	for i := 0; w.dec.More(); i++ {
		if err := w.value(at+"/"+strconv.Itoa(i), elem); err != nil {
			return err
		}
	}
	_, err := w.dec.Token()
	return err
}

func (w *walker) object(at string, t reflect.Type) error {
	if t != nil && t.Kind() != reflect.Struct && t.Kind() != reflect.Map {
		w.say(at, "an object does not fit here; %s is expected", expected(t))
		t = nil
	}
	seen := map[string]bool{}
	for w.dec.More() {
		tok, err := w.dec.Token()
		if err != nil {
			return err
		}
		name, _ := tok.(string)
		here := at + "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(name)
		if seen[name] {
			w.say(here, "the member %q is written twice", name)
		}
		seen[name] = true
		of, known := member(t, name)
		if !known {
			w.say(here, "the member %q is not known here", name)
		}
		if err := w.value(here, of); err != nil {
			return err
		}
	}
	_, err := w.dec.Token()
	return err
}

// member returns the type of the member of that exact name.
func member(t reflect.Type, name string) (reflect.Type, bool) {
	if t == nil {
		return nil, true
	}
	if t.Kind() == reflect.Map {
		return t.Elem(), true
	}
	for _, f := range reflect.VisibleFields(t) {
		tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if tag == name && tag != "-" && f.IsExported() {
			return f.Type, true
		}
	}
	return nil, false
}
