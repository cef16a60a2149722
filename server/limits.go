package server

import (
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

// signIn counts one try to sign in.
func (l *limits) signIn(account, address string) error {
	if err := l.places.take(address, l.now(), "too many tries to sign in from this device's address"); err != nil {
		return err
	}
	return l.accounts.take(account, l.now(), "too many tries to sign in under this name")
}

// pair counts one try to join by a pairing symbol.
func (l *limits) pair(address string) error {
	return l.pairings.take(address, l.now(), "too many tries to join from this device's address")
}

// setUp counts one try to set the farm up.
func (l *limits) setUp(who string) error {
	return l.setUps.take(who, l.now(), "too many tries of the set-up code")
}

// limiter lets so many a minute through for each key. It remembers a bounded
// number of keys and forgets those idle longest.
type limiter struct {
	mu        sync.Mutex
	perMinute int
	buckets   map[string]*bucket
}

type bucket struct {
	*rate.Limiter
	used time.Time
}

// mostKeys bounds the memory that strangers can make a limiter take.
const mostKeys = 4096

func newLimiter(perMinute int) *limiter {
	return &limiter{perMinute: perMinute, buckets: map[string]*bucket{}}
}

// take lets one through, or says when the next one may come.
func (l *limiter) take(key string, now time.Time, refusal string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	b, ok := l.buckets[key]
	if !ok {
		if len(l.buckets) >= mostKeys {
			l.forget(now)
		}
		b = &bucket{Limiter: rate.NewLimiter(rate.Every(time.Minute/time.Duration(l.perMinute)), l.perMinute)}
		l.buckets[key] = b
	}
	b.used = now
	reservation := b.ReserveN(now, 1)
	wait := reservation.DelayFrom(now)
	if wait == 0 {
		return nil
	}
	reservation.CancelAt(now)
	return &grow.Error{Kind: grow.TooMany, Message: refusal + "; wait " + retryIn(wait).words() + " and try again", Cause: retryIn(wait)}
}

// forget drops every key idle for a minute, whose bucket is full again anyway,
// and if that frees nothing the one idle longest.
func (l *limiter) forget(now time.Time) {
	var oldest string
	for key, b := range l.buckets {
		if now.Sub(b.used) >= time.Minute {
			delete(l.buckets, key)
			continue
		}
		if o, ok := l.buckets[oldest]; !ok || b.used.Before(o.used) {
			oldest = key
		}
	}
	if len(l.buckets) >= mostKeys {
		delete(l.buckets, oldest)
	}
}
