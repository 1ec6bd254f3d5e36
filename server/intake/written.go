package intake

import (
	"strconv"
	"unicode/utf8"

	"wayfall/permits"
	"wayfall/sync/op"
)

// written returns a verdict in canonical form, as op.ValueOf does at several
// times the cost; a test holds it to that. Members stand in the order of their
// names.
func written(v *permits.Verdict) op.Value {
	var w verdictWriter
	return w.write(v)
}

// write is written, into room that was used before.
func (w *verdictWriter) write(v *permits.Verdict) op.Value {
	w.b = w.b[:0]
	w.open()
	w.text("act", string(v.Act))
	list(w, "cautions", v.Cautions, (*verdictWriter).caution)
	if len(v.Changes) > 0 {
		list(w, "changes", v.Changes, (*verdictWriter).change)
	}
	w.name("deciding")
	w.finding(&v.Deciding)
	list(w, "findings", v.Findings, (*verdictWriter).finding)
	w.text("inputs", v.Inputs)
	w.some("notice", v.Notice)
	list(w, "obligations", v.Obligations, (*verdictWriter).obligation)
	w.text("outcome", v.Outcome.String())
	list(w, "packs", v.Packs, (*verdictWriter).pack)
	w.texts("proposes", v.Proposes)
	if len(v.Relies) > 0 {
		list(w, "relies", v.Relies, (*verdictWriter).reliance)
	}
	w.yes("sample", v.Sample)
	w.close()
	return op.Value(w.b)
}

type verdictWriter struct{ b []byte }

func (w *verdictWriter) open()  { w.b = append(w.b, '{') }
func (w *verdictWriter) close() { w.b = append(w.b, '}') }

// next puts a comma between what stands in one list or object.
func (w *verdictWriter) next() {
	if last := w.b[len(w.b)-1]; last != '{' && last != '[' {
		w.b = append(w.b, ',')
	}
}

func (w *verdictWriter) name(name string) {
	w.next()
	w.b = append(append(append(w.b, '"'), name...), '"', ':')
}

func (w *verdictWriter) quote(s string) {
	if !utf8.ValidString(s) {
		v, _ := op.ValueOf(s) // mends it as encoding/json does
		w.b = append(w.b, v...)
		return
	}
	for i := range len(s) {
		if c := s[i]; c < ' ' || c == '"' || c == '\\' {
			w.b = append(w.b, op.Text(s)...)
			return
		}
	}
	w.b = append(append(append(w.b, '"'), s...), '"')
}

func (w *verdictWriter) text(name, s string) {
	w.name(name)
	w.quote(s)
}

// some leaves out an empty text.
func (w *verdictWriter) some(name, s string) {
	if s != "" {
		w.text(name, s)
	}
}

func (w *verdictWriter) yes(name string, yes bool) {
	w.name(name)
	w.b = strconv.AppendBool(w.b, yes)
}

// texts leaves out an empty list.
func (w *verdictWriter) texts(name string, all []string) {
	if len(all) > 0 {
		list(w, name, all, func(w *verdictWriter, s *string) { w.quote(*s) })
	}
}

// list writes a list, and null for one that was never made.
func list[T any](w *verdictWriter, name string, all []T, each func(*verdictWriter, *T)) {
	w.name(name)
	if all == nil {
		w.b = append(w.b, "null"...)
		return
	}
	w.b = append(w.b, '[')
	for i := range all {
		w.next()
		each(w, &all[i])
	}
	w.b = append(w.b, ']')
}

func (w *verdictWriter) finding(f *permits.Finding) {
	w.open()
	w.some("authority", f.Authority)
	w.text("because", f.Because)
	w.text("cites", f.Cites)
	w.some("contact", f.Contact)
	w.text("effect", f.Effect.String())
	w.some("law", f.Law)
	w.text("layer", f.Layer.String())
	w.texts("missing", f.Missing)
	w.text("pack", f.Pack)
	w.text("rule", string(f.Rule))
	w.text("source_status", f.SourceStatus)
	if f.Unsure {
		w.yes("unsure", true)
	}
	w.close()
}

func (w *verdictWriter) obligation(o *permits.Obligation) {
	w.open()
	w.some("authority", o.Authority)
	w.text("code", o.Code)
	if o.Due != (permits.Due{}) {
		w.name("due")
		w.open()
		if !o.Due.At.IsZero() {
			w.text("at", o.Due.At.String())
		}
		w.some("word", o.Due.Word)
		w.close()
	}
	w.some("note", o.Note)
	w.text("rule", string(o.Rule))
	w.some("severity", string(o.Severity))
	w.some("to", o.To)
	w.close()
}

func (w *verdictWriter) caution(c *permits.Caution) {
	w.open()
	w.text("code", c.Code)
	w.text("text", c.Text)
	w.text("topic", c.Topic)
	w.close()
}

func (w *verdictWriter) change(c *permits.Change) {
	w.open()
	w.text("fact", c.Fact)
	w.text("rule", string(c.Rule))
	w.close()
}

func (w *verdictWriter) pack(p *permits.PackRef) {
	w.open()
	w.text("digest", p.Digest)
	w.text("id", p.ID)
	w.text("version", p.Version)
	w.close()
}

func (w *verdictWriter) reliance(r *permits.Reliance) {
	w.open()
	w.text("authority", r.Authority)
	w.text("law", r.Law)
	w.text("rule", string(r.Rule))
	if r.Version != 0 {
		w.name("version")
		w.b = strconv.AppendInt(w.b, int64(r.Version), 10)
	}
	w.close()
}
