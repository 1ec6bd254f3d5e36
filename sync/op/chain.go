package op

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
)

// Link is one link of a device's hash chain: it stands for everything the
// device ever saved up to one operation. The zero Link is unknown.
//
//	link(0) = SHA-256("wayfall chain v1" ‖ device id)
//	link(n) = SHA-256(link(n-1) ‖ SHA-256(bytes of operation n))
type Link [sha256.Size]byte

// Hash is the SHA-256 of an operation's bytes.
type Hash [sha256.Size]byte

// ErrLink says that a text is not a link.
var ErrLink = errors.New("a link is 43 characters of base64url, without padding")

// HashOf returns the hash of an operation's bytes.
func HashOf(wire []byte) Hash { return sha256.Sum256(wire) }

// Genesis returns the link before a device's first operation.
func Genesis(dev DeviceID) Link {
	return sha256.Sum256(append([]byte("wayfall chain v1"), dev[:]...))
}

// Next returns the link after the operation with those bytes.
func Next(before Link, wire []byte) Link { return before.Then(HashOf(wire)) }

// Then returns the link after the operation with that hash; it needs no bytes,
// so a chain stays checkable where a payload was erased.
func (l Link) Then(h Hash) Link {
	var both [2 * sha256.Size]byte
	copy(both[:], l[:])
	copy(both[sha256.Size:], h[:])
	return sha256.Sum256(both[:])
}

// String returns the 43 characters that stand for the link.
func (l Link) String() string { return base64.RawURLEncoding.EncodeToString(l[:]) }

// MarshalText returns the 43 characters that stand for the link.
func (l Link) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the 43 characters that stand for a link.
func (l *Link) UnmarshalText(text []byte) error {
	var buf [33]byte
	if len(text) != 43 {
		return ErrLink
	}
	if n, err := idText.Decode(buf[:], text); err != nil || n != len(l) {
		return ErrLink
	}
	copy(l[:], buf[:])
	return nil
}
