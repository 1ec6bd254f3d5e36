package people

import (
	"context"
	"maps"
	"slices"
	"sync"
)

// Memory is a Store that forgets everything when the program ends. The zero
// Memory is empty and ready.
type Memory struct {
	mu      sync.Mutex
	shelves map[string]map[string][]byte
}

// Read implements Store.
func (m *Memory) Read(_ context.Context, shelf, name string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.shelves[shelf][name]), nil
}

// Change implements Store.
func (m *Memory) Change(_ context.Context, shelf, name string, edit func([]byte) ([]byte, error)) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	next, err := edit(slices.Clone(m.shelves[shelf][name]))
	if err != nil {
		return err
	}
	if m.shelves == nil {
		m.shelves = map[string]map[string][]byte{}
	}
	if m.shelves[shelf] == nil {
		m.shelves[shelf] = map[string][]byte{}
	}
	m.shelves[shelf][name] = next
	return nil
}

// List implements Store.
func (m *Memory) List(_ context.Context, shelf string) (map[string][]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return maps.Clone(m.shelves[shelf]), nil
}
