package op

import (
	"encoding/base64"
	"errors"
	"strconv"
	"strings"
)

// ID names a record: 16 bytes drawn at random. The zero ID is unknown.
type ID [16]byte

// DeviceID names one installation on one device: 16 bytes drawn at random. A
// new install, a restored or a cleared store is a new device. The zero
// DeviceID is unknown.
type DeviceID [16]byte

// ErrID says that a text is not an id.
var ErrID = errors.New("an id is 22 characters of base64url, without padding")

// ErrDot says that a text is not a dot.
var ErrDot = errors.New("a dot is written as device:seq:index, without leading zeros")

var idText = base64.RawURLEncoding.Strict()

func parseID(text string) (id [16]byte, err error) {
	var buf [24]byte
	if len(text) != 22 || strings.ContainsAny(text, "\r\n") {
		return id, ErrID
	}
	n, err := idText.Decode(buf[:], []byte(text))
	if err != nil || n != 16 {
		return id, ErrID
	}
	return [16]byte(buf[:16]), nil
}

// ParseID reads the text form of a record's id, and no other spelling of it.
func ParseID(text string) (ID, error) { id, err := parseID(text); return ID(id), err }

// ParseDevice reads the text form of a device's id.
func ParseDevice(text string) (DeviceID, error) { id, err := parseID(text); return DeviceID(id), err }

// String returns the 22 characters that stand for the id.
func (id ID) String() string { return idText.EncodeToString(id[:]) }

// String returns the 22 characters that stand for the id.
func (d DeviceID) String() string { return idText.EncodeToString(d[:]) }

// MarshalText returns the 22 characters that stand for the id.
func (id ID) MarshalText() ([]byte, error) { return idText.AppendEncode(nil, id[:]), nil }

// MarshalText returns the 22 characters that stand for the id.
func (d DeviceID) MarshalText() ([]byte, error) { return idText.AppendEncode(nil, d[:]), nil }

// UnmarshalText reads the text form.
func (id *ID) UnmarshalText(text []byte) (err error) {
	*id, err = ParseID(string(text))
	return err
}

// UnmarshalText reads the text form.
func (d *DeviceID) UnmarshalText(text []byte) (err error) {
	*d, err = ParseDevice(string(text))
	return err
}

// Dot names one act for ever: act number Index, counted from 0, of operation
// Seq of device Dev. What a writer saw is said in dots.
type Dot struct {
	Dev   DeviceID
	Seq   uint64
	Index uint32
}

// Compare orders dots by device, operation and act. The order carries no
// meaning between devices.
func (d Dot) Compare(e Dot) int {
	if c := strings.Compare(string(d.Dev[:]), string(e.Dev[:])); c != 0 {
		return c
	}
	return d.Age(e)
}

// Age orders two dots of one device by which was written first.
func (d Dot) Age(e Dot) int {
	switch {
	case d.Seq < e.Seq, d.Seq == e.Seq && d.Index < e.Index:
		return -1
	case d.Seq == e.Seq && d.Index == e.Index:
		return 0
	}
	return 1
}

// String returns the dot as it stands on the wire: "device:seq:index".
func (d Dot) String() string { return string(d.append(nil)) }

func (d Dot) append(b []byte) []byte {
	b = append(idText.AppendEncode(b, d.Dev[:]), ':')
	b = append(strconv.AppendUint(b, d.Seq, 10), ':')
	return strconv.AppendUint(b, uint64(d.Index), 10)
}

// ParseDot reads the wire form of a dot, and no other spelling of it.
func ParseDot(text string) (Dot, error) {
	if len(text) < 26 || text[22] != ':' {
		return Dot{}, ErrDot
	}
	dev, err := ParseDevice(text[:22])
	seq, index, ok := strings.Cut(text[23:], ":")
	n, errN := strconv.ParseUint(seq, 10, 53)
	i, errI := strconv.ParseUint(index, 10, 32)
	if err != nil || !ok || errN != nil || errI != nil || n == 0 || seq[0] == '0' || len(index) > 1 && index[0] == '0' {
		return Dot{}, ErrDot
	}
	return Dot{dev, n, uint32(i)}, nil
}

// MarshalText returns the wire form.
func (d Dot) MarshalText() ([]byte, error) { return d.append(nil), nil }

// UnmarshalText reads the wire form.
func (d *Dot) UnmarshalText(text []byte) (err error) {
	*d, err = ParseDot(string(text))
	return err
}
