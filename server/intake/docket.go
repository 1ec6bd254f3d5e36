package intake

import (
	"context"
	"crypto/sha256"
	"slices"

	"wayfall/permits"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Verdicts are a few kilobytes each. An operation of verdictsAtOnce stays well
// below its size limit, and docketSize of them go to the disk together.
const (
	verdictsAtOnce = 2
	docketSize     = 200
)

// docket collects verdicts on their way into the log.
type docket struct {
	in      *Intake
	ctx     context.Context
	waiting []judgement
	pen     verdictWriter
	written int
}

type judgement struct {
	find *find
	text op.Value
	sum  [sha256.Size]byte
}

// add takes the verdict on a report, and writes what waits if that is much.
func (d *docket) add(f *find, v permits.Verdict) error {
	if f.hidden {
		delete(d.in.world.due, f.id)
		return nil
	}
	f.answer = nil
	if code := CodeOf(v, f.deed); code != "" {
		f.answer = &answer{code, d.in.memory.words.one(v.Deciding.Because), string(v.Deciding.Rule), v.Inputs,
			d.in.memory.words.one(v.Deciding.Cites), d.in.memory.words.one(v.Deciding.Authority)}
	}
	text := d.pen.write(&v)
	sum := sha256.Sum256([]byte(text))
	if sum == f.judged {
		delete(d.in.world.due, f.id)
		return nil
	}
	if d.waiting = append(d.waiting, judgement{f, text, sum}); len(d.waiting) < docketSize {
		return nil
	}
	return d.write()
}

func (d *docket) write() error {
	if len(d.waiting) == 0 {
		return nil
	}
	var saves [][]op.Group
	for batch := range slices.Chunk(d.waiting, verdictsAtOnce) {
		saves = append(saves, verdicts(batch))
	}
	first, last, err := d.in.writer.WriteAll(d.ctx, d.in.serverHand(), saves)
	if err != nil {
		return err
	}
	w := d.in.world
	if first == w.upto+1 {
		w.upto = last // nothing came between, and what stands there is known
	}
	for _, j := range d.waiting {
		j.find.judged = j.sum
		delete(w.due, j.find.id)
	}
	d.written += len(d.waiting)
	d.waiting = d.waiting[:0]
	return nil
}

func verdicts(batch []judgement) []op.Group {
	out := make([]op.Group, len(batch))
	for i, j := range batch {
		out[i] = op.Group{ID: j.find.id, Kind: string(record.Report), Acts: []op.Act{op.Event("verdicts", j.text)}}
	}
	return out
}
