package geo

import (
	"errors"
	"fmt"
)

// Kind says what sort of thing went wrong, for the program. The zero Kind is
// unknown.
type Kind uint8

// Kinds of error.
const (
	// Unclassified is the kind of an error that is not from this family.
	Unclassified Kind = iota
	// Invalid is a value that cannot be right, such as latitude 91.
	Invalid
	// Unknown is a value that is needed and missing.
	Unknown
	// NotUnderstood is text that could not be read without guessing.
	NotUnderstood
	// Damaged is data that is not what it claims to be.
	Damaged
	// Unsolved is a calculation that gave no finite answer.
	Unsolved
)

var kindNames = [...]string{"unclassified", "invalid", "unknown", "not understood", "damaged", "unsolved"}

// String returns the kind in words.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return kindNames[Unclassified]
}

// Error is what the geo packages return: a kind for the program and a
// sentence for the person.
type Error struct {
	Kind     Kind
	Sentence string
}

// Error returns the sentence.
func (e *Error) Error() string { return e.Sentence }

// Errorf makes an error of a kind.
func Errorf(kind Kind, format string, args ...any) error {
	return &Error{Kind: kind, Sentence: fmt.Sprintf(format, args...)}
}

// Invalidf makes an error of kind Invalid.
func Invalidf(format string, args ...any) error { return Errorf(Invalid, format, args...) }

// KindOf returns the kind of an error, or Unclassified.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Unclassified
}
