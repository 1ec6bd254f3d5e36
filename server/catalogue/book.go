package catalogue

import (
	"context"
	"slices"
	"sync"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Place is a place in the institution's log.
type Place struct {
	LSN  uint64
	AtMS int64  // when that entry was received, Unix milliseconds
	Head string // hash of the log up to there, "" when the log keeps none
}

// Log is what the Book needs of the storage.
type Log interface {
	// Touched returns the records that entries after the given place touched,
	// and the place reached. It may stop early: then more is true.
	Touched(ctx context.Context, after uint64) (ids []op.ID, reached Place, more bool, err error)
	// State returns a record as folded up to at least the place that Touched
	// last reached, an empty State when nobody wrote to it.
	State(ctx context.Context, id op.ID) (merge.State, error)
}

// Surroundings are what the Book asks about the world. Every member may be
// nil; the words of the report then stand alone.
type Surroundings struct {
	// Region returns the state and the county of a place, in words.
	Region func(g record.Georeference) (state, county string)
	// English returns the common name of a scientific one, "" when not known.
	English func(name string) string
	// Zone is the institution's, for what is written at the desk; nil leaves
	// the time as it was written.
	Zone *time.Location
	// Asks says what a paper itself asks for now, whatever is taken under it;
	// nil asks for nothing.
	Asks func(p PaperYears) []PaperDuty
	// Keeper is who sees to what only the institution can do once an animal is
	// there; nil leaves it with who took it.
	Keeper func() string
}

// Book is the fold of everything in the log, by canonical animal. It can be
// thrown away at any time; it catches up with the log whenever it is asked.
type Book struct {
	log Log
	out Surroundings

	mu       sync.Mutex
	place    Place
	reports  map[op.ID]*reportEntry
	animals  map[op.ID]*animalEntry
	parts    map[op.ID]*partEntry
	arrivals map[op.ID]*arrivalEntry
	papers   map[op.ID]*paperEntry

	byTag     map[string][]op.ID // clean tag -> records that carry it
	pointedBy map[op.ID][]op.ID  // animal record -> reports
	partsOf   map[op.ID][]op.ID  // animal record -> parts

	small   small
	awaited map[op.ID][]op.ID // animals that have not come -> records joined to them

	count   int    // of animals that are not withdrawn
	counted uint64 // one more than the place at which they were counted

	stale  bool // order must be made again
	order  []*reportEntry
	rejoin bool              // joined must be made again
	joined map[op.ID][]op.ID // root -> other records of the same animal
}

// Open returns a Book over the log.
func Open(log Log, out Surroundings) *Book {
	return &Book{
		log: log, out: out,
		reports: map[op.ID]*reportEntry{}, animals: map[op.ID]*animalEntry{}, parts: map[op.ID]*partEntry{},
		arrivals: map[op.ID]*arrivalEntry{}, papers: map[op.ID]*paperEntry{},
		small: newSmall(), byTag: map[string][]op.ID{}, pointedBy: map[op.ID][]op.ID{}, partsOf: map[op.ID][]op.ID{},
	}
}

// lock catches up with the log and keeps the Book still until the returned
// function is called.
func (b *Book) lock(ctx context.Context) (unlock func(), err error) {
	b.mu.Lock()
	if err := b.catchUp(ctx); err != nil {
		b.mu.Unlock()
		return nil, fault.Wrap(err, "read the log into the book")
	}
	return b.mu.Unlock, nil
}

func (b *Book) catchUp(ctx context.Context) error {
	for {
		ids, reached, more, err := b.log.Touched(ctx, b.place.LSN)
		if err != nil {
			return err
		}
		seen := make(map[op.ID]bool, len(ids))
		for _, id := range ids {
			if seen[id] {
				continue
			}
			seen[id] = true
			s, err := b.log.State(ctx, id)
			if err != nil {
				return err
			}
			b.learn(s)
		}
		if reached.LSN > b.place.LSN {
			b.place = reached
		}
		if !more {
			b.arrange()
			return nil
		}
	}
}

// Place returns the place in the log up to which the Book is read.
func (b *Book) Place(ctx context.Context) (Place, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return Place{}, err
	}
	defer unlock()
	return b.place, nil
}

// link keeps an index by key up to date when the keys of one record change.
// Each list stays sorted, so that every page shows one order.
func link[K comparable](index map[K][]op.ID, from, to []K, self op.ID) {
	for _, k := range from {
		list := index[k]
		if at, ok := slices.BinarySearchFunc(list, self, compareID); ok {
			if list = slices.Delete(list, at, at+1); len(list) == 0 {
				delete(index, k)
				continue
			}
			index[k] = list
		}
	}
	for _, k := range to {
		list := index[k]
		if at, ok := slices.BinarySearchFunc(list, self, compareID); !ok {
			index[k] = slices.Insert(list, at, self)
		}
	}
}

func parse(id string) (op.ID, error) {
	out, err := op.ParseID(id)
	if err != nil {
		return out, fault.New(fault.Missing, "no record of that name is known here")
	}
	return out, nil
}
