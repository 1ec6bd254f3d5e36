// Package fault gives an error a kind for the program and a sentence for the
// person.
//
// It promises that the kind survives wrapping and that the sentence holds
// nothing secret unless its writer put it there. It does not know HTTP: one
// function of the interface maps kinds to statuses.
package fault

import (
	"errors"
	"fmt"
)

// Kind says what went wrong, as far as a program needs to know. The zero Kind
// is Internal: an error nobody classified is our own.
type Kind uint8

// The kinds of fault. Kinds are added at the end.
const (
	Internal        Kind = iota // ours; logged in full, shown as such
	Invalid                     // the request says something that cannot be
	Denied                      // known, but not allowed
	Unauthenticated             // not known
	Missing                     // no such thing, or none that may be seen
	Stale                       // decided on something that has changed since
	Conflict                    // clashes with what is there
	TooLarge                    // over a limit
	Busy                        // come back later
	Unsupported                 // a form or version this release does not read
)

var kindNames = [...]string{"internal", "invalid", "denied", "unauthenticated", "missing", "stale", "conflict", "too large", "busy", "unsupported"}

// String returns the name of the kind.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Pointer is one place in a request and what is wrong there.
type Pointer struct {
	Pointer string // JSON pointer, RFC 6901
	Detail  string // one sentence
}

// Error is an error with a kind and a sentence.
type Error struct {
	Kind     Kind
	Sentence string // starts in lower case, ends without a full stop
	Pointers []Pointer
	Cause    error
}

// Error returns the sentence and, behind a colon, the cause.
func (e *Error) Error() string {
	switch {
	case e.Cause == nil:
		return e.Sentence
	case e.Sentence == "":
		return e.Cause.Error()
	}
	return e.Sentence + ": " + e.Cause.Error()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Cause }

// At returns a copy of e that also points at a place in the request.
func (e *Error) At(pointer, detail string) *Error {
	c := *e
	c.Pointers = append(e.Pointers[:len(e.Pointers):len(e.Pointers)], Pointer{pointer, detail})
	return &c
}

// New returns an error of the kind with a sentence made as by fmt.Sprintf.
func New(kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Sentence: fmt.Sprintf(format, args...)}
}

// Wrap puts a sentence in front of err and keeps its kind and its pointers.
// Wrapping nil gives nil.
func Wrap(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return &Error{Kind: KindOf(err), Sentence: fmt.Sprintf(format, args...), Pointers: Pointers(err), Cause: err}
}

// As gives err a kind, whatever it had. As of nil is nil.
func As(kind Kind, err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return &Error{Kind: kind, Sentence: fmt.Sprintf(format, args...), Pointers: Pointers(err), Cause: err}
}

// KindOf returns the kind of the outermost fault in err, Internal if none.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Is reports whether err is a fault of the kind. A nil error is none.
func Is(err error, kind Kind) bool { return err != nil && KindOf(err) == kind }

// Pointers returns the places the outermost fault in err points at.
func Pointers(err error) []Pointer {
	var e *Error
	if errors.As(err, &e) {
		return e.Pointers
	}
	return nil
}

// Sentence returns what a person may be told: the sentence of the outermost
// fault without its causes, or "" for an error that is ours.
func Sentence(err error) string {
	var e *Error
	if errors.As(err, &e) && e.Kind != Internal {
		return e.Sentence
	}
	return ""
}
