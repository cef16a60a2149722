package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"syscall"

	"bagmark/grow"
)

// The exit statuses.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// wrongUsage is a call that cannot be understood.
type wrongUsage struct{ message, usage string }

func (e *wrongUsage) Error() string { return e.message }

// hinted is a failure with a word on what to do about it.
type hinted struct {
	error
	hint string
}

func (e *hinted) Unwrap() error { return e.error }

// withHint adds a hint to a failure, if it is one.
func withHint(err error, hint string) error {
	if err == nil {
		return nil
	}
	return &hinted{err, hint}
}

// Report says on stderr what failed, in one line and perhaps a hint in
// another, and gives the exit status: 0 done, 1 failed, 2 wrong usage.
func Report(stderr io.Writer, err error) int {
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(stderr, "bagmark: error: %s\n", messageOf(err))
	var usage *wrongUsage
	if errors.As(err, &usage) {
		fmt.Fprintf(stderr, "%s", usage.usage)
		return exitUsage
	}
	if hint := hintOf(err); hint != "" {
		fmt.Fprintf(stderr, "hint: %s\n", hint)
	}
	return exitFailed
}

// messageOf is one line. Whoever runs the program may see the cause, which a
// browser may not.
func messageOf(err error) string {
	text := err.Error()
	var e *grow.Error
	if errors.As(err, &e) && e.Kind == grow.Internal && e.Cause != nil && !strings.Contains(text, e.Cause.Error()) {
		text += ": " + e.Cause.Error()
	}
	return strings.ReplaceAll(strings.TrimSpace(text), "\n", "; ")
}

func hintOf(err error) string {
	var h *hinted
	switch {
	case errors.As(err, &h):
		return h.hint
	case errors.Is(err, syscall.EADDRINUSE):
		return "another program listens there: stop it, or take another port, such as -listen :8081"
	case errors.Is(err, syscall.EACCES) && strings.Contains(err.Error(), "cannot listen"):
		return "ports under 1024 are the system's; take another with -listen"
	}
	return ""
}
