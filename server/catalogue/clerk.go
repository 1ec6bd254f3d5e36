package catalogue

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
	"wayfall/sync/view"
)

// Read reads a record as it is at the end of the log; an empty State when
// nobody wrote to it.
type Read func(id op.ID) (merge.State, error)

// Writer appends operations of the server's own device to the log.
type Writer interface {
	// WriteIf appends one operation in the name of the person. decide runs
	// while nothing else can enter the institution's log, so what it reads is
	// still true when its groups are appended. When decide fails, nothing is
	// written and its error comes back. decide may run more than once. When
	// WriteIf returns nil, the operation is on disk and the Book can see it.
	WriteIf(ctx context.Context, by Hand, decide func(read Read) ([]op.Group, error)) error
}

// Clerk does what people decide: each act is one operation. There is one Clerk
// for an institution: acts wait for each other, so that a number read from the
// Book is still free when it is given.
type Clerk struct {
	Book   *Book
	Writer Writer
	// NewID draws an id for a new record.
	NewID func() (op.ID, error)

	mu sync.Mutex
}

// write does one act while no other act is under way.
func (c *Clerk) write(ctx context.Context, by Hand, decide func(read Read) ([]op.Group, error)) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.Writer.WriteIf(ctx, by, decide)
}

func value(v any) (op.Value, error) {
	out, err := op.ValueOf(v)
	if err != nil {
		return "", fault.As(fault.Invalid, err, "this cannot be written down")
	}
	return out, nil
}

// group is what an act does to one record.
type group struct {
	op.Group
	err error
}

func on(id op.ID, kind record.Kind) *group {
	return &group{Group: op.Group{ID: id, Kind: string(kind)}}
}

func (g *group) set(field string, v any, saw ...op.Dot) *group {
	return g.add(v, func(v op.Value) op.Act { return op.Set(field, v, saw...) })
}

func (g *group) element(field string, v any) *group {
	return g.add(v, func(v op.Value) op.Act { return op.Add(field, v) })
}

func (g *group) event(field string, v any) *group {
	return g.add(v, func(v op.Value) op.Act { return op.Event(field, v) })
}

func (g *group) add(v any, act func(op.Value) op.Act) *group {
	val, err := value(v)
	if err != nil {
		g.err = err
		return g
	}
	g.Acts = append(g.Acts, act(val))
	return g
}

// done returns the groups for the operation, or the first error.
func done(groups ...*group) ([]op.Group, error) {
	var out []op.Group
	for _, g := range groups {
		if g.err != nil {
			return nil, g.err
		}
		if len(g.Acts) > 0 {
			out = append(out, g.Group)
		}
	}
	return out, nil
}

// moment is the time of a hand as a record keeps it.
func (h Hand) moment() record.When {
	return record.When{Earliest: h.Local, Latest: h.Local, Precision: record.ToMinute, Zone: h.Zone}
}

// past returns a time that a person entered, or now where nobody did. A time
// that cannot be read or lies ahead is refused: the paper is still in the hand.
func (h Hand) past(w record.When) (record.When, error) {
	if w == (record.When{}) {
		return h.moment(), nil
	}
	for _, text := range []string{w.Earliest, w.Latest} {
		if _, err := time.Parse("2006-01-02T15:04", text); err != nil {
			return w, fault.New(fault.Invalid, "“%s” is not a day and a time; write it like 2026-11-03T14:30", text)
		}
	}
	switch {
	case w.Earliest > h.Local:
		return w, fault.New(fault.Invalid, "%s lies ahead; enter it when it has happened", LocalText(w.Earliest))
	case w.Latest < w.Earliest:
		return w, fault.New(fault.Invalid, "%s is before %s", LocalText(w.Latest), LocalText(w.Earliest))
	}
	if w.Zone == "" {
		w.Zone = h.Zone
	}
	return w, nil
}

// saw returns the dots of every value of a field that stands.
func saw(s merge.State, field string) []op.Dot { return s.Saw(field, op.DeviceID{}) }

// state reads a record that must be there and be of the kind.
func state(read Read, id string, kind record.Kind) (merge.State, error) {
	key, err := parse(id)
	if err != nil {
		return merge.State{}, err
	}
	s, err := read(key)
	if fault.Is(err, fault.Missing) || err == nil && (s.Empty() || s.Kind != kind) {
		err = fault.New(fault.Missing, "no %s of that name is known here", kind)
	}
	return s, err
}

// openArrival reads an arrival that is not signed off.
func openArrival(read Read, id string) (merge.State, error) {
	s, err := state(read, id, record.Arrival)
	if err == nil && view.ArrivalOf(s).Closed.Known {
		err = fault.New(fault.Conflict, "this arrival is signed off")
	}
	return s, err
}

// institution is to whom an arrival hands an animal.
const institution = "the institution"

// BeginArrival opens an arrival. It may have taken place earlier than it is
// entered, never later.
func (c *Clerk) BeginArrival(ctx context.Context, by Hand, o Opening) (string, error) {
	if o.From == "" {
		return "", fault.New(fault.Invalid, "write who brought the bags")
	}
	at, err := by.past(o.At)
	if err != nil {
		return "", err
	}
	id, err := c.NewID()
	if err != nil {
		return "", err
	}
	err = c.write(ctx, by, func(Read) ([]op.Group, error) {
		return done(on(id, record.Arrival).set("from", o.From).set("at", at).set("received_by", by.Person))
	})
	return id.String(), err
}

// AddLines adds lines of the list that came with the bags: each begins with
// the tag, if it has one, and goes on with what it is. Everything is kept as
// written, whether its first word is a tag or not.
func (c *Clerk) AddLines(ctx context.Context, by Hand, arrival, text string) error {
	var bags []record.Bag
	for _, written := range strings.Split(text, "\n") {
		if written = strings.TrimSpace(written); written != "" {
			bags = append(bags, readLine(written))
		}
	}
	switch {
	case len(bags) == 0:
		return fault.New(fault.Invalid, "write at least one line")
	case len(bags) > 200:
		return fault.New(fault.Invalid, "these are %d lines; send at most 200 at once", len(bags))
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := openArrival(read, arrival)
		if err != nil {
			return nil, err
		}
		g := on(s.ID, record.Arrival)
		for _, b := range bags {
			g.event("list", b)
		}
		return done(g)
	})
}

// readLine reads one line of a list: a tag, what it is, and anything else
// behind a comma. A tag may be written in groups, so up to three words are
// tried together.
func readLine(written string) record.Bag {
	first, rest, _ := strings.Cut(strings.ReplaceAll(strings.ReplaceAll(written, "\t", ","), ";", ","), ",")
	words := strings.Fields(first)
	for n := min(3, len(words)); n > 0; n-- {
		t, err := tag.Parse(strings.Join(words[:n], ""))
		if err != nil || len(t) < 4 || len(t) > 4+4*n || !strings.ContainsAny(string(t), "0123456789") {
			continue
		}
		kind := strings.Join(words[n:], " ")
		if kind == "" {
			kind, _, _ = strings.Cut(rest, ",")
		}
		if at := strings.IndexAny(kind, "0123456789"); at >= 0 {
			kind = kind[:at] // a date or a count, not a name
		}
		return record.Bag{Tag: t.String(), Taxon: strings.Trim(kind, " .:-"), Written: written}
	}
	return record.Bag{Written: written}
}

// AddBag puts a bag on the table. A tag whose check character is wrong is
// refused with a sentence, so that it is typed again while the bag is in the
// hand; a bag without a readable tag is put down as such.
func (c *Clerk) AddBag(ctx context.Context, by Hand, arrival string, typed Typed) (string, error) {
	bag := record.Bag{Written: typed.Written, Taxon: typed.Taxon}
	if !typed.Untagged {
		t, err := tag.Parse(typed.Tag)
		if err != nil {
			return "", fault.As(fault.Invalid, err, "%s", sorry(typed.Tag, err))
		}
		bag.Tag = t.String()
	} else if bag.Written == "" && bag.Taxon == "" {
		return "", fault.New(fault.Invalid, "a bag without a tag needs a word on what is in it or written on it")
	}
	return bag.Tag, c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := openArrival(read, arrival)
		if err != nil {
			return nil, err
		}
		return done(on(s.ID, record.Arrival).event("bags", bag))
	})
}

func sorry(typed string, err error) string {
	if strings.TrimSpace(typed) == "" {
		return "type or scan a tag first"
	}
	return "“" + strings.TrimSpace(typed) + "” is not a tag: " + err.Error() + ". Look at the bag again"
}

// Accept takes one animal of an arrival into the museum: custody, intake
// number and freezer place in one operation. A bag may be put on the table and
// accepted on two desks at once; the animal is accepted once.
func (c *Clerk) Accept(ctx context.Context, by Hand, arrival string, a Acceptance) (string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	next, err := c.Book.next(ctx, intakeNo)
	if err != nil {
		return "", err
	}
	var no string
	err = c.Writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := openArrival(read, arrival)
		if err != nil {
			return nil, err
		}
		animal, err := state(read, a.Animal, record.Animal)
		if err != nil {
			return nil, err
		}
		v := view.AnimalOf(animal)
		if err := acceptable(v, s.ID); err != nil {
			return nil, err
		}
		g := on(animal.ID, record.Animal)
		g.set("arrival", s.ID.String(), saw(animal, "arrival")...)
		g.set("disposition", "received", saw(animal, "disposition")...)
		if no = v.IntakeNo.Shown; no == "" {
			no = next
			g.set("intake_no", no, saw(animal, "intake_no")...)
		}
		if a.Freezer != "" {
			g.set("freezer", a.Freezer, saw(animal, "freezer")...)
		}
		g.event("custody", record.Custody{From: view.ArrivalOf(s).From.Shown, To: institution, At: view.ArrivalOf(s).At.Shown, Note: whichBag(s, a.Tag)})
		return done(g)
	})
	if err != nil {
		return "", err
	}
	return no, nil
}

func acceptable(v view.Animal, arrival op.ID) error {
	switch {
	case !v.Arrival.Known || v.Arrival.Shown == (op.ID{}):
		return nil
	case v.Arrival.Shown == arrival:
		return fault.New(fault.Conflict, "this animal is already accepted, with intake number %s", v.IntakeNo.Shown)
	case v.Disposition.Shown == "received":
		return fault.New(fault.Conflict, "this animal came in with an earlier arrival, with intake number %s", v.IntakeNo.Shown)
	}
	return nil
}

// whichBag says which bag of how many it was.
func whichBag(arrival merge.State, text string) string {
	bags := view.Values(view.ArrivalOf(arrival).Bags)
	at := slices.IndexFunc(bags, func(b record.Bag) bool { return cleanTag(b.Tag) == cleanTag(text) })
	if text == "" || at < 0 {
		return ""
	}
	return "bag " + itoa(at+1) + " of " + itoa(len(bags))
}

// CloseArrival signs an arrival off. What does not match stays on it as it is.
func (c *Clerk) CloseArrival(ctx context.Context, by Hand, arrival, note string) error {
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := openArrival(read, arrival)
		if err != nil {
			return nil, err
		}
		g := on(s.ID, record.Arrival).set("closed", by.moment(), saw(s, "closed")...)
		if note != "" {
			g.event("remarks", record.Remark{Text: note})
		}
		return done(g)
	})
}

// Settle puts one value of an animal in the place of all that the person saw.
// When somebody has written another meanwhile, nothing is settled.
func (c *Clerk) Settle(ctx context.Context, by Hand, animal string, st Settlement) error {
	return c.settle(ctx, by, record.Animal, animal, st)
}

// SettleReport is Settle for a report.
func (c *Clerk) SettleReport(ctx context.Context, by Hand, report string, st Settlement) error {
	return c.settle(ctx, by, record.Report, report, st)
}

func (c *Clerk) settle(ctx context.Context, by Hand, kind record.Kind, id string, st Settlement) error {
	f, known := record.FieldOf(kind, st.Field)
	if !known || f.Merge != record.MV {
		return fault.New(fault.Invalid, "%q is not a field that can be settled", st.Field)
	}
	if !shaped(f, st.Value) {
		return fault.New(fault.Invalid, "this value does not have the form of “%s”", f.Label)
	}
	unheld, err := c.guard(ctx, kind, id, st.Field, plainText(st.Value))
	if err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if st.Field == "catalogue_no" {
		if err := c.Book.unborne(ctx, id, st.Value); err != nil {
			return err
		}
	}
	return c.Writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, id, kind)
		if err != nil {
			return nil, err
		}
		if err := unheld(read); err != nil {
			return nil, err
		}
		live := saw(s, st.Field)
		for _, d := range live {
			if !slices.Contains(st.Saw, d.String()) {
				return nil, fault.New(fault.Stale, "somebody has said something else about “%s” meanwhile", f.Label)
			}
		}
		return done(on(s.ID, kind).set(st.Field, st.Value, live...))
	})
}

// Correct writes a new text into a field of an animal.
func (c *Clerk) Correct(ctx context.Context, by Hand, animal, field, text string) error {
	if !slices.ContainsFunc(Correctable(), func(f record.Field) bool { return f.Name == field }) {
		return fault.New(fault.Invalid, "this field is not corrected by typing")
	}
	if text == "" {
		return fault.New(fault.Invalid, "write the new value")
	}
	return c.setText(ctx, by, animal, field, text)
}

func (c *Clerk) setText(ctx context.Context, by Hand, animal, field, text string) error {
	unheld, err := c.guard(ctx, record.Animal, animal, field, text)
	if err != nil {
		return err
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		if err := unheld(read); err != nil {
			return nil, err
		}
		return done(on(s.ID, record.Animal).set(field, text, saw(s, field)...))
	})
}
