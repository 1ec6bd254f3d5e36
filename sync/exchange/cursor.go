package exchange

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
)

// Cursor says how far a device has read: in which server's log, in which of
// its lives, up to which place, and of which scope. A device stores the sealed
// form and does not look into it.
type Cursor struct {
	Server      [16]byte
	Incarnation [16]byte
	LSN         uint64
	Scope       [16]byte // ScopeHash of what the device may read
}

// ErrCursor says that a text is no cursor that this server has sealed.
var ErrCursor = errors.New("not a cursor of this server")

const (
	cursorVersion = 1
	cursorSize    = 1 + 16 + 16 + 8 + 16
	cursorMAC     = 16 // of 32; RFC 2104 section 5 allows half
)

// ScopeHash returns what stands for a scope in a cursor.
func ScopeHash(scope string) (h [16]byte) {
	sum := sha256.Sum256([]byte("wayfall scope v1\x00" + scope))
	copy(h[:], sum[:])
	return h
}

// Seal returns the cursor as a text that nobody without the key can make.
func (c Cursor) Seal(key []byte) string {
	b := make([]byte, 0, cursorSize+cursorMAC)
	b = append(b, cursorVersion)
	b = append(b, c.Server[:]...)
	b = append(b, c.Incarnation[:]...)
	b = binary.BigEndian.AppendUint64(b, c.LSN)
	b = append(b, c.Scope[:]...)
	return base64.RawURLEncoding.EncodeToString(append(b, seal(key, b)...))
}

func seal(key, b []byte) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte("wayfall cursor\x00"))
	mac.Write(b)
	return mac.Sum(nil)[:cursorMAC]
}

// OpenCursor reads a text that Seal made with the key. Whether the server, its
// life and the scope are still the same is for the caller to compare.
func OpenCursor(key []byte, text string) (Cursor, error) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if err != nil || len(b) != cursorSize+cursorMAC || b[0] != cursorVersion || len(text) != base64.RawURLEncoding.EncodedLen(len(b)) {
		return Cursor{}, ErrCursor
	}
	if !hmac.Equal(seal(key, b[:cursorSize]), b[cursorSize:]) {
		return Cursor{}, ErrCursor
	}
	var c Cursor
	copy(c.Server[:], b[1:])
	copy(c.Incarnation[:], b[17:])
	c.LSN = binary.BigEndian.Uint64(b[33:])
	copy(c.Scope[:], b[41:])
	return c, nil
}
