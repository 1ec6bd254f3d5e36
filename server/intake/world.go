package intake

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
	facts "wayfall/permits/screen/find"
	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// ServerActor signs what the server itself decides.
const ServerActor = "server"

// find is what intake remembers of one report.
type find struct {
	id op.ID
	gist
	person   string // who took it, as authorities name people
	author   string // who saved it first
	device   op.DeviceID
	where    facts.Where
	reported time.Time
	animals  []op.ID
	doubts   []Doubt
	differs  []differing
	uses     []quota.Use // under papers with numbers, were no number full
	over     bool        // beyond a number, when last reckoned
	judged   [32]byte    // digest of the newest verdict of the server; zero is none
	answer   *answer     // what of it the list of what needs a look shows; nil needs nobody
	lsn      uint64
	hidden   bool
}

// answer is the gist of a verdict.
type answer struct {
	code          Code
	because, rule string
	inputs        string
	cites, paper  string // the section, and the paper that the finding is about
}

// differing is a field on which people differ.
type differing struct {
	field string
	label string
	dots  string // names the values that stand
	why   string
}

// creature is what intake remembers of one animal.
type creature struct {
	id      op.ID
	sameAs  op.ID
	taxon   *record.Determination
	tags    []string
	body    body
	differs []differing
	lsn     uint64
	hidden  bool
}

// noted is an operation that was received with an effect other than ok.
type noted struct {
	oplog.Receipt
	record op.ID
	kind   string
	actor  string
	wall   op.Wall
}

// mark is how an item was settled.
type mark struct{ how string }

// world is everything intake has folded from the log. It can be thrown away.
type world struct {
	upto   uint64
	finds  map[op.ID]*find
	beasts map[op.ID]*creature
	papers map[op.ID][]permits.Authority
	noted  []noted
	marks  map[string]mark
	due    map[op.ID]bool // reports to be screened anew
	known  map[op.ID]bool // every record that was ever written to and is neither find nor beast
	redo   bool           // all of them: the papers changed
	asks   asks           // what the papers ask of an animal
}

func newWorld() *world {
	return &world{finds: map[op.ID]*find{}, beasts: map[op.ID]*creature{}, papers: map[op.ID][]permits.Authority{},
		marks: map[string]mark{}, due: map[op.ID]bool{}, known: map[op.ID]bool{}}
}

// catchUp reads what was added to the log since the last time.
func (in *Intake) catchUp(ctx context.Context) error {
	const page = 200 // entries in memory at once; the server's own are large
	for {
		entries, err := in.log.Read(ctx, in.world.upto, page)
		if err != nil {
			return fault.Wrap(err, "read the log")
		}
		before, noted := in.world.upto, len(in.world.noted)
		p := pageOf{fresh: map[op.ID]*merge.State{}, touched: map[op.ID]bool{}, judged: map[op.ID]op.Value{}}
		for _, e := range entries {
			in.world.upto = e.LSN
			in.take(e, &p)
		}
		if err := in.learnPage(ctx, &p); err != nil {
			in.world.upto, in.world.noted = before, in.world.noted[:noted] // all of the page next time
			return err
		}
		if len(entries) < page {
			return nil
		}
	}
}

// pageOf is what one page of the log is about.
type pageOf struct {
	fresh   map[op.ID]*merge.State // records that begin on this page, folded from it
	touched map[op.ID]bool         // records that were there before
	judged  map[op.ID]op.Value     // the server's newest verdict on a report
}

func (in *Intake) learnPage(ctx context.Context, p *pageOf) error {
	for _, s := range p.fresh {
		in.learn(*s)
	}
	for id := range p.touched {
		s, err := in.log.Record(ctx, id)
		if fault.Is(err, fault.Missing) {
			continue
		}
		if err != nil {
			return err
		}
		in.learn(s)
	}
	for id, v := range p.judged {
		if f := in.world.finds[id]; f != nil {
			f.judged = sha256.Sum256([]byte(v))
		}
	}
	return nil
}

// take notes an entry and the records it touches.
func (in *Intake) take(e oplog.Entry, p *pageOf) {
	w := in.world
	o, err := op.Decode(e.Wire)
	if e.Effect != oplog.OK {
		w.noted = append(w.noted, in.memory.note(e, o))
	}
	if err != nil || !e.Effect.Folded() {
		return
	}
	for _, g := range o.On {
		if v, ok := verdictOf(o, g); ok {
			p.judged[g.ID] = v
			continue
		}
		w.touch(o, g, e.Receipt, p)
		if g.Kind == string(record.Report) && !onlyServer(o, g) {
			w.due[g.ID] = true
		}
	}
}

// note keeps what the list of what needs a look shows of an operation, and
// none of its text.
func (m *memory) note(e oplog.Entry, o op.Op) noted {
	n := noted{Receipt: e.Receipt, actor: m.words.one(o.Actor)}
	n.Code, n.Why = m.words.one(n.Code), m.words.one(n.Why)
	n.wall = op.Wall{Millis: o.Wall.Millis, Zone: m.words.one(o.Wall.Zone), Source: m.words.one(o.Wall.Source)}
	if len(o.On) > 0 {
		n.record, n.kind = o.On[0].ID, m.words.one(o.On[0].Kind)
	}
	return n
}

// touch folds an operation into a record that begins on this page; one that
// was there before is read from the log afterwards.
func (w *world) touch(o op.Op, g op.Group, r oplog.Receipt, p *pageOf) {
	s := p.fresh[g.ID]
	if s == nil {
		if p.touched[g.ID] || w.knows(g.ID) || len(o.On) > 1 && twice(o, g.ID) {
			p.touched[g.ID] = true
			return
		}
		fresh := merge.New(g.ID, record.Kind(g.Kind))
		s = &fresh
		p.fresh[g.ID] = s
		if k := fresh.Kind; k != record.Report && k != record.Animal {
			w.known[g.ID] = true
		}
	}
	s.Apply(o, merge.Receipt{LSN: r.LSN, Eff: r.Eff})
}

// knows reports whether a record began on an earlier page.
func (w *world) knows(id op.ID) bool { return w.finds[id] != nil || w.beasts[id] != nil || w.known[id] }

// twice reports whether an operation has two groups on one record.
func twice(o op.Op, id op.ID) bool {
	n := 0
	for _, g := range o.On {
		if g.ID == id {
			n++
		}
	}
	return n > 1
}

// verdictOf returns the verdict if the group is one of the server's own and
// nothing else.
func verdictOf(o op.Op, g op.Group) (op.Value, bool) {
	if o.Actor != ServerActor || len(g.Acts) != 1 || g.Acts[0].Field != "verdicts" || g.Kind != string(record.Report) {
		return "", false
	}
	return g.Acts[0].Value, true
}

// onlyServer reports whether the group adds nothing but what the server says
// about the report, which does not change what a verdict rests on.
func onlyServer(o op.Op, g op.Group) bool {
	return !slices.ContainsFunc(g.Acts, func(a op.Act) bool {
		return !(a.Field == "verdicts" && o.Actor == ServerActor) && a.Field != "remarks" && a.Field != "done" && a.Field != "decisions"
	})
}

func (in *Intake) learn(s merge.State) {
	switch s.Kind {
	case record.Report:
		in.learnFind(s)
	case record.Animal:
		standing, _ := s.Standing()
		c := &creature{id: s.ID, sameAs: view.Read[op.ID](s, "same_as").Shown, taxon: shown(s.Field("taxon"), in.memory.taxa.of),
			tags: every(s.Field("tags").Elements, fresh[string]), body: bodyOf(s), differs: differsOf(s), hidden: standing == merge.Hidden, lsn: lastLSN(s)}
		switch old := in.world.beasts[s.ID]; {
		case old != nil && old.sameAs != c.sameAs: // one animal more or less counts under a paper
			in.dueFor(s.ID)
		case in.world.asks.traits && (old == nil && c.body.said() || old != nil && old.body.Traits != c.body.Traits):
			in.dueFor(s.ID)
		case in.world.asks.stay && (old == nil && c.body.Stay != (quota.Stay{}) || old != nil && old.body.Stay != c.body.Stay):
			in.dueFor(s.ID)
		}
		in.world.beasts[s.ID] = c
		in.settled(every(s.Field("remarks").Events, fresh[record.Remark]))
	case record.Authority:
		now := editions(s)
		if !reflect.DeepEqual(in.world.papers[s.ID], now) { // a share lent to a phone changes no answer
			in.world.papers[s.ID], in.world.redo = now, true
			in.world.asks = asksOf(in.world.papers)
		}
		in.settled(view.Values(view.AuthorityOf(s).Remarks))
	case record.Arrival:
		in.settled(view.Values(view.ArrivalOf(s).Remarks))
	case record.Part:
		in.settled(view.Values(view.PartOf(s).Remarks))
	}
}

// dueFor screens the reports of an animal anew.
func (in *Intake) dueFor(animal op.ID) {
	for id, f := range in.world.finds {
		if slices.Contains(f.animals, animal) {
			in.world.due[id] = true
		}
	}
}

// editions reads every document of an authority that was ever written and not
// replaced; a document may hold its earlier editions itself.
func editions(s merge.State) []permits.Authority {
	var out []permits.Authority
	for _, said := range view.AuthorityOf(s).Document.All {
		var doc struct {
			permits.Authority
			Versions []permits.Authority `json:"versions"`
		}
		if json.Unmarshal(said.Value, &doc) != nil {
			continue
		}
		out = append(append(out, doc.Versions...), doc.Authority)
	}
	return out
}

func (in *Intake) learnFind(s merge.State) {
	f := in.world.finds[s.ID]
	if f == nil {
		f = &find{id: s.ID}
		in.world.finds[s.ID] = f
		in.world.due[s.ID] = true
	}
	r := in.memory.read(s)
	standing, _ := s.Standing()
	f.gist, f.animals, f.hidden, f.lsn = r.gist, r.animals, standing == merge.Hidden, lastLSN(s)
	in.signed(f, r)
	f.differs = differsOf(s)
	in.weigh(f, r)
	if r.verdict != "" {
		f.judged = sha256.Sum256([]byte(r.verdict))
	}
	in.settled(r.remarks)
}

// signed notes who made a report, when, and who took the animal.
func (in *Intake) signed(f *find, r reading) {
	f.author, f.device = in.memory.words.one(r.first.Actor), r.first.Dot.Dev
	f.reported = time.Time{}
	if ms := r.first.Wall.Millis; ms != 0 {
		f.reported = time.UnixMilli(ms).In(in.memory.zone(r.first.Wall.Zone))
	}
	if f.person = r.salvager; f.person == "" {
		f.person = f.author
	}
}

// weigh works out in which states a report lies and what is odd about it.
func (in *Intake) weigh(f *find, r reading) {
	lay := Lay{Place: f.place(), Circumstance: f.tell.Where, Locality: r.locality}
	at := in.ground.look(lay.Place)
	f.where.Sure, f.where.Possible = facts.States(f.tell.Place, at.locator())
	f.doubts = Follow(Dates{Died: r.died, Found: f.found(), TakenAt: or(f.tell.TakenAt), Frozen: r.frozen, Reported: f.reported})
	f.doubts = append(f.doubts, in.ground.doubts(lay, at)...)
	for i := range f.doubts {
		f.doubts[i].Record = f.id
	}
}

func locationOf(zone string) *time.Location {
	offset, err := zoneOf(zone)
	if err != nil {
		return time.UTC
	}
	return time.FixedZone(zone, int(offset/time.Second))
}

func lastLSN(s merge.State) uint64 {
	h, _ := s.Last()
	return h.LSN
}

func differsOf(s merge.State) []differing {
	var out []differing
	for _, f := range s.Differing() {
		known, _ := record.FieldOf(s.Kind, f.Name)
		d := differing{field: f.Name, label: known.Label}
		if d.label == "" {
			d.label = f.Name
		}
		var hands []string
		for _, v := range f.Values {
			for _, dot := range v.Dots() {
				d.dots += dot.String() + " "
			}
			hands = append(hands, v.By[0].Actor)
		}
		d.why = "“" + d.label + "” is said differently by " + strings.Join(hands, " and ")
		out = append(out, d)
	}
	return out
}

// settled reads how items were settled out of remarks.
func (in *Intake) settled(remarks []record.Remark) {
	for _, r := range remarks {
		if r.Settles != "" {
			in.world.marks[r.Settles] = mark{r.How}
		}
	}
}
