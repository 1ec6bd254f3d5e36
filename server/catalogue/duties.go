package catalogue

import (
	"context"
	"slices"
	"strings"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// ofTheTaker are the duties of whoever takes an animal up. When nobody did,
// they ask for nothing.
var ofTheTaker = map[string]bool{
	"TAG": true, "DEPOSIT": true, "HAND_OVER_NOW": true, "TRANSFER_NOW": true, "HAND_TO_HOLDER": true, "DONATE_OR_DESTROY": true,
	"ACCESSION_PERMIT_NO": true, "UNIQUE_NUMBER_ON_ALL_PARTS": true, "IDENTIFY_BEFORE_REPORT": true, "REGISTER_SALVAGE": true,
	"KEEP_BAND_WITH_SPECIMEN": true, "HEAD_OR_WING_ON_IN_TRANSIT": true, "LABEL_PRE_AUTHORITY": true, "ONE_PREMISES_ONLY": true,
}

// handingOver are the duties that an arrival at the institution fulfils.
var handingOver = map[string]bool{"DEPOSIT": true, "HAND_OVER_NOW": true, "TRANSFER_NOW": true, "HAND_TO_HOLDER": true}

// ofTheHouse are the duties that only the institution can do once it has the
// animal.
var ofTheHouse = map[string]bool{"IDENTIFY_BEFORE_REPORT": true, "AWAIT_IDENTIFICATION": true, "ACCESSION_PERMIT_NO": true,
	"UNIQUE_NUMBER_ON_ALL_PARTS": true, "KEEP_BAND_WITH_SPECIMEN": true, "FREEZE_TRANSFERS": true, "HOLD_UNTIL_DIRECTED": true}

// whose gives a duty to who can do it.
func (b *Book) whose(d Duty, animal Row) Duty {
	if b.out.Keeper != nil && ofTheHouse[d.Code] && animal.Disposition == "received" {
		if keeper := b.out.Keeper(); keeper != "" {
			d.Who = keeper
		}
	}
	return d
}

// settle marks a duty as done when the records themselves show that it was,
// and as void when what happened leaves nothing to do: an animal that was
// received is deposited; one that was left where it lay needs no tag.
func settle(d Duty, animal Row, deed string) Duty {
	if d.Done || d.Waived {
		return d
	}
	line := strings.HasSuffix(d.Code, "_LINE")
	switch {
	case (line || ofTheTaker[d.Code]) && deed != "taken" && deed != "":
		d.Void = "not taken: " + strings.ToLower(labelIn(record.Deeds, deed))
	case line:
		d.Done, d.Evidence = true, "entered by itself"
	case handingOver[d.Code] && animal.Disposition == "received":
		d.Done, d.DoneAt = true, animal.Received
	case handingOver[d.Code] && slices.Contains([]string{"agency", "transferred", "destroyed"}, animal.Disposition):
		d.Void = "it went another way: " + strings.ToLower(labelIn(record.Dispositions, animal.Disposition))
	case d.Code == "TAG" && animal.Tag != "":
		d.Done, d.Evidence = true, "tag "+animal.Tag
	case d.Code == "IDENTIFY_BEFORE_REPORT" && animal.Sure:
		d.Done, d.Evidence = true, "named as "+animal.Name
	}
	return d
}

// weight orders what is known of one duty of one animal from two reports: done
// once is done; waived by a document is waived; asked for by one of them is asked for.
func (d Duty) weight() int {
	switch {
	case d.Done:
		return 3
	case d.Waived:
		return 2
	case d.Void == "":
		return 1
	}
	return 0
}

// mergeDuty adds a duty to those of one animal, each of which stands once.
func mergeDuty(all []Duty, d Duty) []Duty {
	at := slices.IndexFunc(all, func(x Duty) bool { return x.Code == d.Code && x.Text == d.Text })
	switch {
	case at < 0:
		return append(all, d)
	case d.weight() > all[at].weight() || d.weight() == all[at].weight() && d.Due != "" && d.Due < all[at].Due:
		all[at] = d
	}
	return all
}

// dutiesOn returns the duties of all reports on one animal, each once.
func (b *Book) dutiesOn(root op.ID, animal Row, reports []*reportEntry) []Duty {
	var out []Duty
	for _, r := range reports {
		if r.standing == merge.Hidden {
			continue
		}
		for _, d := range r.duties {
			d = b.whose(settle(d, animal, r.deed), animal)
			d.Animal = animal
			out = mergeDuty(out, d)
		}
	}
	return out
}

// dutiesIn returns the duties of one report. One that concerns several animals
// stands with the first for which it is still open.
func (b *Book) dutiesIn(r *reportEntry) []Duty {
	var animals []Row
	for _, id := range r.animals {
		if b.animals[id] != nil {
			animals = append(animals, b.row(b.root(id)))
		}
	}
	if len(animals) == 0 {
		animals = []Row{{}}
	}
	var out []Duty
	for _, d := range r.duties {
		var worst Duty
		for i, a := range animals {
			one := b.whose(settle(d, a, r.deed), a)
			one.Animal = a
			if i == 0 || worst.weight() != 1 && one.weight() == 1 {
				worst = one
			}
		}
		out = append(out, worst)
	}
	return out
}

// Duties returns every duty of every report that is not withdrawn. Two reports
// of one animal ask for a thing once.
func (b *Book) Duties(ctx context.Context) ([]Duty, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	var out []Duty
	told := map[op.ID]bool{}
	for _, r := range b.order {
		if r.standing == merge.Hidden || len(r.duties) == 0 {
			continue
		}
		root, shared := b.shared(r)
		switch {
		case !shared:
			out = append(out, b.dutiesIn(r)...)
		case !told[root]:
			told[root] = true
			out = append(out, b.dutiesOn(root, b.row(root), b.reportsOf(root))...)
		}
	}
	return append(out, b.paperDuties()...), nil
}

// shared is the one animal of a report that another report tells of too.
func (b *Book) shared(r *reportEntry) (op.ID, bool) {
	if len(r.animals) != 1 || b.animals[r.animals[0]] == nil {
		return op.ID{}, false
	}
	root := b.root(r.animals[0])
	reports := b.reportsOf(root)
	return root, len(reports) > 1 && !slices.ContainsFunc(reports, func(o *reportEntry) bool { return len(o.animals) != 1 })
}

// NoteDone writes that a duty of a report was done, by whom and how. What is
// noted stays; noting it again adds to it.
func (c *Clerk) NoteDone(ctx context.Context, by Hand, report, code, evidence string) error {
	if evidence = strings.TrimSpace(evidence); evidence == "" {
		return fault.New(fault.Invalid, "write what was done: whom you told, and under which reference")
	}
	return c.noteOn(ctx, by, report, record.DutyDone{Code: code, At: by.moment(), Evidence: evidence})
}

// Waiver is the document by which a duty is lifted.
type Waiver struct{ Document, By, Why string }

// Waive writes that a document lifted a duty of a report. Without a document,
// who lifted it and why, nothing is kept.
func (c *Clerk) Waive(ctx context.Context, by Hand, report, code string, w Waiver) error {
	w = Waiver{strings.TrimSpace(w.Document), strings.TrimSpace(w.By), strings.TrimSpace(w.Why)}
	switch {
	case w.Document == "":
		return fault.New(fault.Invalid, "a duty is waived by a document only: write its reference").At("/document", "missing")
	case w.By == "":
		return fault.New(fault.Invalid, "write which office or person waived the duty").At("/by", "missing")
	case w.Why == "":
		return fault.New(fault.Invalid, "write why the duty was waived").At("/why", "missing")
	}
	return c.noteOn(ctx, by, report, record.DutyDone{Code: code, At: by.moment(), Waives: true, Document: w.Document, By: w.By, Why: w.Why})
}

// noteOn writes a note on a duty that the rules ask for, or that a paper does.
func (c *Clerk) noteOn(ctx context.Context, by Hand, report string, note record.DutyDone) error {
	if codes, paper, err := c.Book.paperOf(ctx, report); err != nil || paper {
		if err == nil {
			err = c.notePaper(ctx, by, report, codes, note)
		}
		return err
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, report, record.Report)
		if err != nil {
			return nil, err
		}
		_, _, asked := judged(view.ReportOf(s))
		if !slices.ContainsFunc(asked, func(d Duty) bool { return d.Code == note.Code }) {
			return nil, fault.New(fault.Conflict, "the rules ask for nothing of that kind here any longer")
		}
		return done(on(s.ID, record.Report).event("done", note))
	})
}
