package server

import (
	"strings"
	"sync"
	"time"

	"bagmark/grow"

	"golang.org/x/time/rate"
)

// limits slow down whoever guesses. Nobody is locked out: the next try is free
// again after a while.
type limits struct {
	now      func() time.Time
	accounts *limiter // sign-ins under one name
	places   *limiter // sign-ins from one address
	pairings *limiter // pairings from one address
	setUps   *limiter // tries of the set-up code, from wherever
}

// newLimits sets the usual rates (common practice; OWASP ASVS 5.0 asks for a
// limit and leaves the figure open).
func newLimits(now func() time.Time) *limits {
	return &limits{now: now, accounts: newLimiter(5), places: newLimiter(20), pairings: newLimiter(10), setUps: newLimiter(5)}
}

// signIn counts one try to sign in. A name in other letters is the same name.
func (l *limits) signIn(account, address string) error {
	if err := l.places.take(address, l.now(), "too many tries to sign in from this device's address"); err != nil {
		return err
	}
	return l.accounts.take(strings.ToLower(strings.Join(strings.Fields(account), " ")), l.now(), "too many tries to sign in under this name")
}

// pair counts one try to join by a pairing symbol.
func (l *limits) pair(address string) error {
	return l.pairings.take(address, l.now(), "too many tries to join from this device's address")
}

// setUp counts one try to set the farm up.
func (l *limits) setUp(who string) error {
	return l.setUps.take(who, l.now(), "too many tries of the set-up code")
}

// limiter lets so many a minute through for each key. It keeps two generations
// of keys: one turns into the other each minute, or when it is full, and what
// is not used meanwhile is forgotten. A key idle for a minute has all its tries
// back anyway.
type limiter struct {
	mu            sync.Mutex
	perMinute     int
	recent, older map[string]*rate.Limiter
	turnedAt      time.Time
}

// mostKeys bounds the memory that strangers can make a limiter take.
const mostKeys = 4096

func newLimiter(perMinute int) *limiter {
	return &limiter{perMinute: perMinute, recent: map[string]*rate.Limiter{}}
}

// take lets one through, or says when the next one may come.
func (l *limiter) take(key string, now time.Time, refusal string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	tries := l.of(key, now)
	reservation := tries.ReserveN(now, 1)
	wait := reservation.DelayFrom(now)
	if wait == 0 {
		return nil
	}
	reservation.CancelAt(now)
	return &grow.Error{Kind: grow.TooMany, Message: refusal + "; wait " + retryIn(wait).words() + " and try again", Cause: retryIn(wait)}
}

// of is what a key has left.
func (l *limiter) of(key string, now time.Time) *rate.Limiter {
	if len(l.recent) >= mostKeys/2 || now.Sub(l.turnedAt) >= time.Minute {
		l.older, l.recent, l.turnedAt = l.recent, map[string]*rate.Limiter{}, now
	}
	tries, ok := l.recent[key]
	if !ok {
		if tries, ok = l.older[key]; !ok {
			tries = rate.NewLimiter(rate.Every(time.Minute/time.Duration(l.perMinute)), l.perMinute)
		}
		delete(l.older, key)
		l.recent[key] = tries
	}
	return tries
}
