package intake

import (
	"strings"
	"sync"
	"time"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// lately keeps what was read of values that many reports say alike, such as a
// species or whose land it was. Reports that say the same then share it, so
// nobody may change what it hands out.
type lately[T any] map[op.Value]*T

// mostLately bounds each memory; a full one starts over.
const mostLately = 2000

// of reads a value, or returns nil if it does not have the form of T.
func (l lately[T]) of(v op.Value) *T {
	if t := l[v]; t != nil {
		return t
	}
	t := fresh[T](v)
	if t == nil {
		return nil
	}
	if len(l) >= mostLately {
		clear(l)
	}
	l[op.Value(strings.Clone(string(v)))] = t
	return t
}

// words keeps one copy of each word that reports share: codes, people, zones.
type words map[string]string

func (w words) one(s string) string {
	if s == "" {
		return ""
	}
	if kept, ok := w[s]; ok {
		return kept
	}
	if len(w) >= mostLately {
		clear(w)
	}
	s = strings.Clone(s)
	w[s] = s
	return s
}

// memory is what reading reports remembers of the reports before.
type memory struct {
	words      words
	zones      map[string]*time.Location
	taxa       lately[record.Determination]
	conditions lately[record.Condition]
	causes     lately[record.Cause]
	signs      lately[record.Signs]
	lands      lately[record.Land]
}

func newMemory() *memory {
	return &memory{words{}, map[string]*time.Location{}, lately[record.Determination]{}, lately[record.Condition]{},
		lately[record.Cause]{}, lately[record.Signs]{}, lately[record.Land]{}}
}

// zone is locationOf, with one copy of each.
func (m *memory) zone(offset string) *time.Location {
	z := m.zones[offset]
	if z == nil {
		if len(m.zones) >= mostLately {
			clear(m.zones)
		}
		offset = strings.Clone(offset)
		z = locationOf(offset)
		m.zones[offset] = z
	}
	return z
}

// fresh reads a value on its own, or returns nil if it does not have the form
// of T.
func fresh[T any](v op.Value) *T {
	t := new(T)
	if v.Into(t) != nil {
		return nil
	}
	return t
}

// sound remembers values in which nothing was odd, of fields for which that
// does not hang on the day. It may be asked from any goroutine.
type sound struct {
	mu   sync.Mutex
	said map[saying]bool
}

type saying struct {
	shape record.Shape
	kind  record.Kind
	field string
	value op.Value
}

// timeless are the shapes that are judged without a clock and said alike by
// many.
var timeless = map[record.Shape]bool{record.TaxonV: true, record.CauseV: true, record.StateV: true,
	record.LandV: true, record.SignsV: true}

// shape is Shape, which it leaves out for what was found sound before.
func (k *sound) shape(f record.Field, v op.Value, m Moment) []Doubt {
	if !timeless[f.Shape] {
		return Shape(f, v, m)
	}
	key := saying{f.Shape, f.Kind, f.Name, v}
	k.mu.Lock()
	known := k.said[key]
	k.mu.Unlock()
	if known {
		return nil
	}
	out := Shape(f, v, m)
	if len(out) == 0 {
		k.keep(key)
	}
	return out
}

func (k *sound) keep(key saying) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.said == nil || len(k.said) >= mostLately {
		k.said = map[saying]bool{}
	}
	key.field, key.value = strings.Clone(key.field), op.Value(strings.Clone(string(key.value)))
	k.said[key] = true
}
