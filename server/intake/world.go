package intake

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
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
	zone     *time.Location
	reported time.Time
	animals  []op.ID
	doubts   []Doubt
	differs  []differing
	uses     []quota.Use // under papers with numbers, were no number full
	over     bool        // beyond a number, when last reckoned
	judged   [32]byte    // digest of the newest verdict of the server; zero is none
	answer   answer      // what of it the list of what needs a look shows
	lsn      uint64
	hidden   bool
}

// answer is the gist of a verdict.
type answer struct {
	code          Code // "" needs nobody
	because, rule string
	inputs        string
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
	taxon   record.Determination
	tags    []string
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
	known  map[op.ID]bool // every record that was ever written to
	redo   bool           // all of them: the papers changed
}

func newWorld() *world {
	return &world{finds: map[op.ID]*find{}, beasts: map[op.ID]*creature{}, papers: map[op.ID][]permits.Authority{},
		marks: map[string]mark{}, due: map[op.ID]bool{}, known: map[op.ID]bool{}}
}

// catchUp reads what was added to the log since the last time.
func (in *Intake) catchUp(ctx context.Context) error {
	const page = 500
	for {
		entries, err := in.log.Read(ctx, in.world.upto, page)
		if err != nil {
			return fault.Wrap(err, "read the log")
		}
		p := pageOf{fresh: map[op.ID]*merge.State{}, touched: map[op.ID]bool{}, judged: map[op.ID]op.Value{}}
		for _, e := range entries {
			in.world.upto = e.LSN
			in.world.take(e, &p)
		}
		if err := in.learnPage(ctx, &p); err != nil {
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
func (w *world) take(e oplog.Entry, p *pageOf) {
	o, err := op.Decode(e.Wire)
	if e.Effect != oplog.OK {
		n := noted{Receipt: e.Receipt, actor: o.Actor, wall: o.Wall}
		if err == nil && len(o.On) > 0 {
			n.record, n.kind = o.On[0].ID, o.On[0].Kind
		}
		w.noted = append(w.noted, n)
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
		w.known[g.ID] = true
	}
	s.Apply(o, merge.Receipt{LSN: r.LSN, Eff: r.Eff})
}

// knows reports whether a record began on an earlier page.
func (w *world) knows(id op.ID) bool { return w.known[id] }

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
		return !(a.Field == "verdicts" && o.Actor == ServerActor) && a.Field != "remarks" && a.Field != "done"
	})
}

func (in *Intake) learn(s merge.State) {
	switch s.Kind {
	case record.Report:
		in.learnFind(s)
	case record.Animal:
		a := view.AnimalOf(s)
		c := &creature{id: s.ID, sameAs: a.SameAs.Shown, taxon: a.Taxon.Shown, tags: view.Values(a.Tags),
			differs: differsOf(s), hidden: a.Standing == merge.Hidden, lsn: lastLSN(s)}
		if old := in.world.beasts[s.ID]; old != nil && old.sameAs != c.sameAs {
			in.dueFor(s.ID) // one animal more or less counts under a paper
		}
		in.world.beasts[s.ID] = c
		in.settled(view.Values(a.Remarks))
	case record.Authority:
		in.world.papers[s.ID] = editions(s)
		in.world.redo = true
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
	r := view.ReportOf(s)
	f := in.world.finds[s.ID]
	if f == nil {
		f = &find{id: s.ID}
		in.world.finds[s.ID] = f
		in.world.due[s.ID] = true
	}
	f.gist, f.hidden, f.lsn = gistOf(r), r.Standing == merge.Hidden, lastLSN(s)
	f.animals = view.Values(r.Animals)
	f.author, f.device, f.reported = firstHand(s)
	f.zone = f.reported.Location()
	if f.person = r.Salvager.Shown; f.person == "" {
		f.person = f.author
	}
	f.differs = differsOf(s)
	f.doubts = in.doubtsOf(f)
	for _, v := range r.Verdicts {
		if v.Actor == ServerActor && !v.Ill {
			f.judged = sha256.Sum256([]byte(v.Raw))
		}
	}
	in.settled(view.Values(r.Remarks))
}

func (in *Intake) doubtsOf(f *find) []Doubt {
	out := Follow(Dates{Died: f.died, Found: f.found(), TakenAt: or(f.tell.TakenAt), Frozen: f.frozen, Reported: f.reported})
	out = append(out, in.ground.Doubts(Lay{Place: f.place(), Circumstance: f.tell.Where, Locality: f.locality})...)
	for i := range out {
		out[i].Record = f.id
	}
	return out
}

// firstHand returns who saved a record first, on which device and when.
func firstHand(s merge.State) (author string, dev op.DeviceID, at time.Time) {
	var first merge.Hand
	for _, f := range s.Fields() {
		for _, list := range [][]merge.Value{f.Values, f.Elements, f.Events} {
			for _, v := range list {
				for _, h := range v.By {
					if h.Actor != ServerActor && (first.Actor == "" || h.LSN != 0 && h.LSN < first.LSN) {
						first = h
					}
				}
			}
		}
	}
	if first.Wall.Millis != 0 {
		at = time.UnixMilli(first.Wall.Millis).In(locationOf(first.Wall.Zone))
	}
	return first.Actor, first.Dot.Dev, at
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
