package grow

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// ErrorKind says what sort of refusal an [Error] is; the server maps each to
// one HTTP status.
type ErrorKind string

// The kinds of refusal.
const (
	Invalid      ErrorKind = "invalid"
	Unauthorized ErrorKind = "unauthorized"
	Forbidden    ErrorKind = "forbidden"
	NotFound     ErrorKind = "not_found"
	NotAllowed   ErrorKind = "not_allowed"
	Conflict     ErrorKind = "conflict"
	TooLarge     ErrorKind = "too_large"
	Unsupported  ErrorKind = "unsupported"
	TooMany      ErrorKind = "too_many"
	Internal     ErrorKind = "internal"
	Busy         ErrorKind = "busy"
)

// Error is the one error type of bagmark. Message is written for a person: it
// says what happened and what to do next. Fields holds a message for each
// faulty field under its JSON path. Cause is for the log, never for a browser.
type Error struct {
	Kind    ErrorKind
	Message string
	Fields  map[string]string
	Cause   error
}

// Errorf makes an [Error] with a formatted message.
func Errorf(kind ErrorKind, format string, args ...any) *Error {
	return &Error{Kind: kind, Message: fmt.Sprintf(format, args...)}
}

// Error joins the message and the fields' problems in the fields' order.
func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return e.Message
	}
	parts := make([]string, 0, len(e.Fields))
	for _, k := range slices.Sorted(maps.Keys(e.Fields)) {
		parts = append(parts, k+": "+e.Fields[k])
	}
	return e.Message + " (" + strings.Join(parts, "; ") + ")"
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// KindOf is the kind of the first [Error] in err's chain, [Internal] if there
// is none.
func KindOf(err error) ErrorKind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Problems collects what is wrong with a value, field by field, so that a
// person hears of everything at once. The zero value is ready to use.
type Problems map[string]string

// Add notes a problem; the first one of a field is kept.
func (p *Problems) Add(field, format string, args ...any) {
	if *p == nil {
		*p = Problems{}
	}
	if _, there := (*p)[field]; !there {
		(*p)[field] = fmt.Sprintf(format, args...)
	}
}

// Err is nil when nothing was noted, else an [Invalid] error with the message.
func (p Problems) Err(message string) error {
	if len(p) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Message: message, Fields: p}
}
