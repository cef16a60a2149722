package grow_test

import (
	"errors"
	"fmt"
	"io"
	"testing"

	"bagmark/grow"
)

func TestErrorKinds(t *testing.T) {
	t.Parallel()
	refused := grow.Errorf(grow.Conflict, "bag %d is out", 7)
	tests := []struct {
		name string
		err  error
		want grow.ErrorKind
	}{
		{"ours", refused, grow.Conflict},
		{"ours inside another", fmt.Errorf("while saving: %w", refused), grow.Conflict},
		{"somebody else's", io.EOF, grow.Internal},
		{"none", nil, grow.Internal},
	}
	for _, test := range tests {
		if got := grow.KindOf(test.err); got != test.want {
			t.Errorf("%s: kind %s, want %s", test.name, got, test.want)
		}
	}
	e := &grow.Error{Kind: grow.Internal, Message: "the disk is full", Cause: io.ErrShortWrite}
	if !errors.Is(e, io.ErrShortWrite) || e.Error() != "the disk is full" {
		t.Errorf("%q hides or shows its cause; want it for errors.Is, not in the message", e)
	}
}

func TestProblems(t *testing.T) {
	t.Parallel()
	var p grow.Problems
	if err := p.Err("nothing is wrong"); err != nil {
		t.Errorf("no problems give the error %v", err)
	}
	p.Add("bags", "must be 1 to %d", 2000)
	p.Add("bags", "is silly")
	p.Add("a.b[0]", "is missing")
	err := p.Err("this batch cannot be made")
	var e *grow.Error
	if !errors.As(err, &e) || e.Kind != grow.Invalid || e.Fields["bags"] != "must be 1 to 2000" || len(e.Fields) != 2 {
		t.Fatalf("got %#v, want an invalid error with the first problem of each field", err)
	}
	if want := "this batch cannot be made (a.b[0]: is missing; bags: must be 1 to 2000)"; e.Error() != want {
		t.Errorf("message %q, want %q", e.Error(), want)
	}
}
