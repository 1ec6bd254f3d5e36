package server

import (
	"encoding/json"
	"errors"
	"fmt"

	"wayfall/permits/screen/find"
	"wayfall/permits/screen/land"
)

// loadLand reads drawn units of ground. They are known by the digest of their
// bytes, so they are spelt first as the field kit spells them.
func loadLand(f *File) (*land.Map, json.RawMessage, error) {
	if f == nil {
		return nil, nil, nil
	}
	text := f.Data
	if spelt, err := json.Marshal(json.RawMessage(f.Data)); err == nil {
		text = spelt
	}
	m, faults := land.Load(f.Name, text)
	var all []error
	for _, x := range faults {
		all = append(all, errors.New(x.String()))
	}
	if err := errors.Join(all...); err != nil {
		return nil, nil, fmt.Errorf("units of ground: %w", err)
	}
	return m, text, nil
}

// Places works out where things lay, with the lines and towns this server has.
func (s *Server) Places() find.Map { return find.Map{Lines: s.lines, Names: s.names} }
