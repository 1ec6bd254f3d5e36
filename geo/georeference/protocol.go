package georeference

import "wayfall/geo"

// Protocol says how terms are combined into a radius. The zero Protocol is
// Strict.
type Protocol uint8

// Protocols.
const (
	// Strict takes the true worst case of the shape for the stated point.
	Strict Protocol = iota
	// Published takes the rules of Chapman & Wieczorek (2020) and Zermoglio et
	// al. (2020) by type of locality. For a distance at a heading the terms
	// that are distances are folded into the offset before the angle is
	// applied, as the earlier guidelines did (from memory).
	Published
)

// String names the protocol for a record.
func (p Protocol) String() string {
	if p == Published {
		return "published: rules by type of locality of Chapman & Wieczorek 2020 and Zermoglio et al. 2020, distance terms folded into the offset, version 1"
	}
	return "strict: worst case of the shape for the stated point, version 1"
}

// Word is the protocol in one word.
func (p Protocol) Word() string {
	if p == Published {
		return "published"
	}
	return "strict"
}

// ProtocolOf reads the word.
func ProtocolOf(word string) (Protocol, error) {
	switch word {
	case "", "strict":
		return Strict, nil
	case "published":
		return Published, nil
	}
	return Strict, geo.Invalidf("%q is no protocol: strict or published", word)
}
