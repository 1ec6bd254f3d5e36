package catalogue

import (
	"cmp"
	"context"
	"encoding/json"
	"strconv"
	"strings"

	"wayfall/server/fault"
	"wayfall/sync/op"
)

// split takes a number apart into what stands before its last run of digits,
// and that run: "SMNH B-00412" is "SMNH B-", 412, five digits wide.
func split(no string) (prefix string, n uint64, width int, ok bool) {
	at := len(no)
	for at > 0 && no[at-1] >= '0' && no[at-1] <= '9' {
		at--
	}
	n, err := strconv.ParseUint(no[at:], 10, 63)
	return no[:at], n, len(no) - at, err == nil
}

// compareNumbers orders numbers as people count them: 9 comes before 10.
func compareNumbers(a, b string) int {
	pa, na, _, oka := split(a)
	pb, nb, _, okb := split(b)
	if oka && okb && pa == pb {
		return cmp.Compare(na, nb)
	}
	return strings.Compare(a, b)
}

// series is how each kind of number begins when nobody has given one yet.
var series = [numberKinds]string{catalogueNo: "C-000001", intakeNo: "IN-0001"}

// nextNumber is one more than the highest number of the series in use, counting
// every value that stands, so that a number is never given twice. Of several
// series the one is taken that most animals bear.
func (b *Book) nextNumber(kind int) string {
	type run struct {
		top   uint64
		width int
		uses  int
	}
	runs := map[string]*run{}
	for _, a := range b.animals {
		for _, no := range a.allNumbers[kind] {
			p, n, width, ok := split(no)
			if !ok {
				continue
			}
			if runs[p] == nil {
				runs[p] = &run{}
			}
			r := runs[p]
			r.top, r.width, r.uses = max(r.top, n), max(r.width, width), r.uses+1
		}
	}
	best, most := "", (*run)(nil)
	for p, r := range runs {
		if most == nil || r.uses > most.uses || r.uses == most.uses && p < best {
			best, most = p, r
		}
	}
	if most == nil {
		return series[kind]
	}
	digits := strconv.FormatUint(most.top+1, 10)
	return best + strings.Repeat("0", max(0, most.width-len(digits))) + digits
}

// next is the next free number of a kind.
func (b *Book) next(ctx context.Context, kind int) (string, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return "", err
	}
	defer unlock()
	return b.nextNumber(kind), nil
}

// catalogued is the catalogue number that the animal has, and the next free.
func (b *Book) catalogued(ctx context.Context, root op.ID) (has, next string, err error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return "", "", err
	}
	defer unlock()
	return b.row(root).Catalogue, b.nextNumber(catalogueNo), nil
}

// rootOf is the record that counts for an animal.
func (b *Book) rootOf(ctx context.Context, animal string) (op.ID, error) {
	id, err := parse(animal)
	if err != nil {
		return id, err
	}
	unlock, err := b.lock(ctx)
	if err != nil {
		return id, err
	}
	defer unlock()
	if b.animals[id] == nil {
		return id, fault.New(fault.Missing, "no animal of that name is known here")
	}
	return b.root(id), nil
}

// unborne is a fault when another animal bears the catalogue number.
func (b *Book) unborne(ctx context.Context, animal string, value json.RawMessage) error {
	var no string
	if err := json.Unmarshal(value, &no); err != nil || no == "" {
		return fault.New(fault.Invalid, "write a catalogue number")
	}
	id, err := parse(animal)
	if err != nil {
		return err
	}
	unlock, err := b.lock(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	if others := b.bearers(catalogueNo, no, b.root(id)); len(others) > 0 {
		return fault.New(fault.Conflict, "the catalogue number %s stands on another animal, %s", no, join(" ", others[0].Name, others[0].Tag))
	}
	return nil
}
