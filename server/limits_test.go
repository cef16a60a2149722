package server

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"bagmark/grow"
)

func TestLimiterLetsSoManyThroughAMinute(t *testing.T) {
	t.Parallel()
	l := newLimiter(5)
	now := noon
	for i := range 5 {
		if err := l.take("anna", now, "no"); err != nil {
			t.Fatalf("try %d: %v", i+1, err)
		}
	}
	err := l.take("anna", now, "no")
	var wait retryIn
	if grow.KindOf(err) != grow.TooMany || !errors.As(err, &wait) || wait.seconds() != 12 {
		t.Fatalf("the sixth try: %v, wait %d s, want 12", err, wait.seconds())
	}
	if err := l.take("ben", now, "no"); err != nil {
		t.Errorf("another key has to wait too: %v", err)
	}
	if err := l.take("anna", now.Add(11*time.Second), "no"); err == nil {
		t.Error("the seventh try came through too early")
	}
	if err := l.take("anna", now.Add(12*time.Second), "no"); err != nil {
		t.Errorf("after the wait: %v", err)
	}
}

func TestLimiterForgets(t *testing.T) {
	t.Parallel()
	l := newLimiter(5)
	for i := range 3 * mostKeys {
		if err := l.take(fmt.Sprint(i), noon, "no"); err != nil {
			t.Fatal(err)
		}
		if n := len(l.recent) + len(l.older); n > mostKeys {
			t.Fatalf("%d keys are remembered, at most %d may be", n, mostKeys)
		}
	}
	for i := 2; i < 5; i++ {
		if err := l.take("new", noon.Add(time.Duration(i)*time.Minute), "no"); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(l.recent) + len(l.older); n != 1 {
		t.Errorf("after idle minutes %d keys are left", n)
	}
}

// TestLimiterRemembersAcrossGenerations: whoever keeps trying gains nothing
// when the minute turns.
func TestLimiterRemembersAcrossGenerations(t *testing.T) {
	t.Parallel()
	l := newLimiter(5)
	through := 0
	for second := range 600 {
		if l.take("anna", noon.Add(time.Duration(second)*time.Second), "no") == nil {
			through++
		}
	}
	if through < 53 || through > 54 { // five at once, then one each twelve seconds
		t.Errorf("%d tries came through in ten minutes, want 54", through)
	}
}

func TestSignInsAreCountedByNameAndByAddress(t *testing.T) {
	t.Parallel()
	l := newLimits(func() time.Time { return noon })
	for i, name := range []string{"Ana", "ana", "ANA", " ana ", "Ana"} {
		if err := l.signIn(name, fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.signIn("aNa", "6"); grow.KindOf(err) != grow.TooMany {
		t.Errorf("the sixth try under one name: %v", err)
	}
	for i := range 20 {
		if err := l.signIn(fmt.Sprint(i), "192.168.1.7"); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.signIn("somebody", "192.168.1.7"); grow.KindOf(err) != grow.TooMany {
		t.Errorf("the 21st try from one address: %v", err)
	}
	for range 10 {
		if err := l.pair("192.168.1.7"); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.pair("192.168.1.7"); grow.KindOf(err) != grow.TooMany {
		t.Errorf("the eleventh pairing: %v", err)
	}
}

func TestSetUpCode(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	s := h.server
	code := s.SetUpCode()
	if len(code) != 11 || code == newHouse(t).server.SetUpCode() {
		t.Fatalf("the code is %q", code)
	}
	for i := range 4 {
		if err := s.checkSetUpCode("WRONG-CODE0"); grow.KindOf(err) != grow.Invalid {
			t.Fatalf("wrong try %d: %v", i+1, err)
		}
	}
	if err := s.checkSetUpCode(" " + string(code[:5]) + code[6:]); err != nil {
		t.Errorf("the code without its hyphen: %v", err)
	}
	if err := s.checkSetUpCode(code); grow.KindOf(err) != grow.TooMany {
		t.Errorf("the sixth try in a minute: %v", err)
	}
	h.clock.move(time.Minute)
	s.closeSetUp()
	if err := s.checkSetUpCode(code); grow.KindOf(err) != grow.Conflict || s.SetUpCode() != "" {
		t.Errorf("after set-up: %v, code %q", err, s.SetUpCode())
	}
}
