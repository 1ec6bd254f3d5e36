package simulate

import (
	"errors"
	"slices"
	"time"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// world is everything of one run.
type world struct {
	server  *server
	phones  []*phone
	at      time.Time
	limbo   [][]byte // pushes kept back on the way
	mistake Mistake
	saved   map[op.DeviceID]map[uint64][][]byte // everything that was ever saved, each story of a number
	answer  map[op.DeviceID]map[uint64]bool     // what was ever acknowledged
	read    map[string]opened                   // operations that were decoded before
}

type opened struct {
	op.Op
	err error
}

// decode decodes an operation, once.
func (w *world) decode(wire []byte) (op.Op, error) {
	x, ok := w.read[string(wire)]
	if !ok {
		x.Op, x.err = op.Decode(wire)
		w.read[string(wire)] = x
	}
	return x.Op, x.err
}

func newWorld(m Mistake) *world {
	w := &world{at: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC), mistake: m,
		saved: map[op.DeviceID]map[uint64][][]byte{}, answer: map[op.DeviceID]map[uint64]bool{},
		read: map[string]opened{}}
	w.server = newServer(w.now, m)
	for n := range byte(Phones) {
		w.phones = append(w.phones, &phone{dev: op.DeviceID{n + 1}, w: w, memory: memory{said: map[uint64]oplog.Receipt{}}})
	}
	return w
}

func (w *world) now() time.Time { return w.at }

func (w *world) everSaved(dev op.DeviceID, seq uint64, wire []byte) {
	if w.saved[dev] == nil {
		w.saved[dev] = map[uint64][][]byte{}
	}
	w.saved[dev][seq] = append(w.saved[dev][seq], wire)
}

func (w *world) acked(dev op.DeviceID, r oplog.Receipt) {
	if w.answer[dev] == nil {
		w.answer[dev] = map[uint64]bool{}
	}
	w.answer[dev][r.Seq] = true
}

// everything are the dots of a field that anybody ever wrote, seen or not.
func (w *world) everything(id op.ID, field string, self op.DeviceID) (dots []op.Dot) {
	newest := map[op.DeviceID]op.Dot{}
	for _, p := range w.phones {
		for _, wire := range p.kept {
			o, err := w.decode(wire)
			if err != nil {
				continue
			}
			eachAct(o, func(g op.Group, a op.Act, dot op.Dot) {
				if g.ID == id && a.Field == field && dot.Dev != self {
					newest[dot.Dev] = dot
				}
			})
		}
	}
	for _, d := range newest {
		dots = append(dots, d)
	}
	slices.SortFunc(dots, op.Dot.Compare)
	return dots
}

// errCut says that the network gave no answer.
var errCut = errors.New("no answer")

// send takes a push to the server, as the network chooses.
func (w *world) send(body []byte, net uint64) ([]byte, error) {
	switch net % 10 {
	case 1: // lost on the way
		return nil, errCut
	case 2: // cut on the way
		_, err := w.server.push(body[:int(net>>8%uint64(len(body)))])
		if err == nil {
			return nil, broken("P11", "a push that was cut was taken")
		}
		return nil, errCut
	case 3: // kept back on the way
		w.limbo = append(w.limbo, body)
		return nil, errCut
	case 4: // arrived, and the answer was lost
		_, _ = w.server.push(body)
		return nil, errCut
	case 5: // arrived twice
		w.limbo = append(w.limbo, body)
	case 6: // the answer was cut
		answer, err := w.server.push(body)
		return answer[:len(answer)/2], err
	case 7: // somebody else answers
		return []byte("<html>Sign in to the café's network</html>"), nil
	}
	return w.server.push(body)
}

// step does one step.
func (w *world) step(x Step) error {
	p := w.phones[x.Who%len(w.phones)]
	w.at = w.at.Add(time.Millisecond)
	switch x.Kind {
	case Pass:
		w.at = w.at.Add(time.Duration(x.A % uint64(30*24*time.Hour)))
		return nil
	case Back:
		w.server.back()
		return nil
	case Restore:
		w.server.restored()
		return nil
	case Deliver:
		return w.deliver(x.A)
	}
	if p.lost {
		return nil
	}
	c := chance(x.A)
	switch x.Kind {
	case Save:
		return p.save(&c)
	case Garbage:
		p.keep([]byte(`{"what":"is this"}`), p.stamp)
	case Push:
		return p.push(1+int(x.A%6), x.B)
	case Pull:
		return p.pull(1+int(x.A%7), x.B)
	case Jump:
		p.offset = time.Duration(int64(x.A%(20*365*24*3600))-10*365*24*3600) * time.Second
	case Copy:
		w.copy(p)
	case Rewind:
		p.rewind()
	case Lose:
		p.lost = true
	case Head:
		if h := w.server.head(); h.Size > 0 {
			p.heads = append(p.heads, keptHead{h, w.server.life})
		}
	}
	return nil
}

func (w *world) deliver(a uint64) error {
	if len(w.limbo) == 0 {
		return nil
	}
	i := int(a % uint64(len(w.limbo)))
	_, _ = w.server.push(w.limbo[i]) // whatever it says, nobody hears it
	w.limbo = slices.Delete(w.limbo, i, i+1)
	return nil
}

// copy makes a second phone of the same name, that knows what the first does.
func (w *world) copy(p *phone) {
	if len(w.phones) >= 2*Phones {
		return
	}
	q := &phone{memory: p.clone(), dev: p.dev, offset: p.offset, double: true, w: w}
	p.double = true
	w.phones = append(w.phones, q)
}

// rewind puts a phone back to a copy of itself, or makes one.
func (p *phone) rewind() {
	if p.old == nil {
		m := p.clone()
		p.old = &m
		return
	}
	p.memory, p.old, p.double = p.old.clone(), nil, true
}

// heal lets the network work until everything has arrived. It must, in a
// number of rounds that does not grow.
func (w *world) heal() error {
	for len(w.limbo) > 0 {
		if err := w.deliver(0); err != nil {
			return err
		}
	}
	for range 4 {
		for _, p := range w.phones {
			if p.lost {
				continue
			}
			for range 2 + len(p.kept)/8 {
				if err := p.push(8, 0); err != nil {
					return err
				}
			}
		}
	}
	for _, p := range w.phones {
		for before := -1; !p.lost && before != len(p.heard); {
			before = len(p.heard)
			if err := p.pull(50, 0); err != nil {
				return err
			}
			if before == 0 && p.cursor == "" {
				before = -1
			}
		}
	}
	return nil
}

// eachAct calls do for every act with its dot.
func eachAct(o op.Op, do func(g op.Group, a op.Act, dot op.Dot)) {
	index := 0
	for _, g := range o.On {
		for _, a := range g.Acts {
			do(g, a, o.Dot(index))
			index++
		}
	}
}
