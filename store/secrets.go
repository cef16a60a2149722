package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"errors"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"bagmark/grow"
)

// Sign-in rules
//
// A device is a browser that somebody signed in with, or an API token. It
// proves itself with a secret of 256 random bits, of which the farm keeps the
// SHA-256 only; a browser may have one secret over HTTP and one over HTTPS, and
// they end together. What it may do is the least of three: its person's role as
// it is now, the device's own limit, and the limit of the secret it showed. A
// browser's sign-in ends after 180 days without use and after 400 days in any
// case, so that a phone in the bag room stays signed in for months; a token
// ends when it is revoked.

// Over is the way a secret travels. A secret is good for one way only.
type Over string

// The ways.
const (
	OverHTTP  Over = "http"
	OverHTTPS Over = "https"
	OverToken Over = "token"
)

const (
	idleLife    = 180 * 24 * time.Hour
	longestLife = 400 * 24 * time.Hour
	// touchEvery is how exactly the time of the last use is kept.
	touchEvery = time.Minute
	// touchWait is how long a request waits for a busy writer before it goes on
	// without noting the time.
	touchWait = 250 * time.Millisecond
)

// Session is a sign-in that was just made. The secret is never shown again.
type Session struct {
	Secret    string
	Actor     Actor
	ExpiresAt time.Time // at the latest; earlier if not used
}

// lesser is the role with the fewer rights.
func lesser(a, b Role) Role {
	if a.May(b) {
		return b
	}
	return a
}

// newSecret draws a secret and gives it with the hash that is kept.
func newSecret(random io.Reader) (secret string, sum []byte, err error) {
	var b [32]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", nil, noRandom(err)
	}
	secret = base64.RawURLEncoding.EncodeToString(b[:])
	return secret, secretSum(secret), nil
}

func secretSum(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

func noRandom(err error) error {
	return &grow.Error{Kind: grow.Internal, Message: "no random numbers for a secret", Cause: err}
}

// SignIn signs a person in with a new device. most limits what the sign-in may
// do whatever the person's role. An unknown name, a person who has ended and a
// wrong passphrase get the same answer after the same time.
func (s *Store) SignIn(ctx context.Context, name, passphrase, deviceName string, over Over, most Role) (Session, error) {
	refused := grow.Errorf(grow.Unauthorized, "the name or the passphrase is wrong")
	var p person
	err := s.reading(ctx, func(t *tx) (err error) {
		p, err = t.person(`name_key = ? AND ended_at IS NULL`, nameKey(name))
		return err
	})
	if err != nil && !isNotFound(err) {
		return Session{}, err
	}
	right, err := rightPassphrase(ctx, passphrase, p.passphrase)
	if err != nil {
		return Session{}, err
	}
	if !right {
		return Session{}, refused
	}
	zone := s.Zone(ctx)
	var in Session
	err = s.writing(ctx, func(t *tx) error {
		now, err := t.person(`id = ? AND ended_at IS NULL`, p.id)
		if err != nil || now.passphrase != p.passphrase { // changed while it was being checked
			return refused
		}
		in, err = t.signIn(now, deviceName, over, most, zone)
		return err
	})
	return in, err
}

// isNotFound tells an ordinary "there is none" from a failure.
func isNotFound(err error) bool {
	var e *grow.Error
	return errors.As(err, &e) && e.Kind == grow.NotFound
}

// signIn makes a device of a person with its first secret.
func (t *tx) signIn(p person, deviceName string, over Over, most Role, zone *time.Location) (Session, error) {
	d := Actor{PersonID: p.id, Person: p.name, Device: tidyDevice(deviceName), Role: lesser(p.role, most)}
	expires := t.now.Add(longestLife)
	var err error
	d.DeviceID, err = t.insert(`INSERT INTO devices (person_id, kind, name, role, made_at, used_at, expires_at) VALUES (?, 'browser', ?, ?, ?, ?, ?)`,
		p.id, d.Device, string(most), micros(t.now), micros(t.now), micros(expires))
	if err != nil {
		return Session{}, err
	}
	secret, err := t.giveSecret(d.DeviceID, over, most)
	return Session{Secret: secret, Actor: d, ExpiresAt: expires.In(zone)}, err
}

// giveSecret gives a device a new secret for one way; the old one for it ends.
func (t *tx) giveSecret(device int64, over Over, most Role) (string, error) {
	secret, sum, err := newSecret(t.store.random)
	if err != nil {
		return "", err
	}
	if _, err := t.exec(`DELETE FROM secrets WHERE device_id = ? AND over = ?`, device, string(over)); err != nil {
		return "", err
	}
	_, err = t.exec(`INSERT INTO secrets (sha256, device_id, over, most, made_at) VALUES (?, ?, ?, ?, ?)`, sum, device, string(over), string(most), micros(t.now))
	return secret, err
}

// SecondSecret gives a signed-in browser its secret for the other way: one
// device, two sign-ins, which end together. most limits what this one may do.
func (s *Store) SecondSecret(ctx context.Context, a Actor, over Over, most Role) (Session, error) {
	zone := s.Zone(ctx)
	in := Session{Actor: a}
	err := s.writing(ctx, func(t *tx) error {
		var limit Role
		var expires int64
		err := t.one(`SELECT role, expires_at FROM devices WHERE id = ? AND kind = 'browser' AND revoked_at IS NULL`, []any{a.DeviceID}, &limit, &expires)
		if errors.Is(err, sql.ErrNoRows) {
			return signedOut()
		}
		if err != nil {
			return err
		}
		in.Actor.Role, in.ExpiresAt = lesser(a.Role, most), instant(expires, zone)
		in.Secret, err = t.giveSecret(a.DeviceID, over, lesser(limit, most))
		return err
	})
	return in, err
}

func signedOut() error {
	return grow.Errorf(grow.Unauthorized, "you are not signed in, or this sign-in has ended; sign in again")
}

// Who tells who shows a secret. Unknown, revoked and expired ones are
// [grow.Unauthorized].
func (s *Store) Who(ctx context.Context, secret string, over Over) (Actor, error) {
	var p proof
	var now time.Time
	err := s.reading(ctx, func(t *tx) (err error) {
		now = t.now
		p, err = t.proof(secretSum(secret), over)
		return err
	})
	if errors.Is(err, sql.ErrNoRows) || err == nil && p.over(now) {
		if over == OverToken {
			return Actor{}, grow.Errorf(grow.Unauthorized, "this token is not known here, or it was revoked; bagmark token makes a new one")
		}
		return Actor{}, signedOut()
	}
	if err != nil {
		return Actor{}, err
	}
	if now.Sub(time.UnixMicro(p.usedAt)) >= touchEvery {
		s.touch(ctx, p.DeviceID)
	}
	return p.Actor, nil
}

// proof is what a secret leads to.
type proof struct {
	Actor
	usedAt    int64
	expiresAt *int64
}

func (p proof) over(now time.Time) bool {
	return p.expiresAt != nil && (micros(now) >= *p.expiresAt || now.Sub(time.UnixMicro(p.usedAt)) > idleLife)
}

// proof reads by the primary keys of three tables; none is sql.ErrNoRows.
func (t *tx) proof(sum []byte, over Over) (p proof, err error) {
	var limit, most, role Role
	var personID *int64
	var person *string
	err = t.one(`SELECT d.id, d.name, d.role, d.used_at, d.expires_at, s.most, p.id, p.name, coalesce(p.role, d.role)
		FROM secrets s JOIN devices d ON d.id = s.device_id LEFT JOIN people p ON p.id = d.person_id
		WHERE s.sha256 = ? AND s.over = ? AND d.revoked_at IS NULL AND p.ended_at IS NULL`, []any{sum, string(over)},
		&p.DeviceID, &p.Device, &limit, &p.usedAt, &p.expiresAt, &most, &personID, &person, &role)
	if err != nil {
		return p, err
	}
	p.Role, p.Person = lesser(lesser(role, limit), most), p.Device
	if personID != nil {
		p.PersonID, p.Person = *personID, *person
	}
	return p, nil
}

// touch notes that a device was used. Whether that can be written decides
// nothing, so a failure is passed over: the next request tries again.
func (s *Store) touch(ctx context.Context, device int64) {
	ctx, cancel := context.WithTimeout(ctx, touchWait)
	defer cancel()
	_ = s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`UPDATE devices SET used_at = ?1 WHERE id = ?2 AND used_at < ?1`, micros(t.now), device)
		return err
	})
}

// SignOut ends the sign-ins of the browser that asks.
func (s *Store) SignOut(ctx context.Context, a Actor) error {
	return s.writing(ctx, func(t *tx) error { return t.revoke(`id = ? AND kind = 'browser'`, a.DeviceID) })
}

// revoke ends devices at once: their secrets go, their names stay on record.
func (t *tx) revoke(where string, args ...any) error {
	if _, err := t.exec(`DELETE FROM secrets WHERE device_id IN (SELECT id FROM devices WHERE `+where+`)`, args...); err != nil {
		return err
	}
	_, err := t.exec(`UPDATE devices SET revoked_at = ? WHERE revoked_at IS NULL AND `+where, append([]any{micros(t.now)}, args...)...)
	return err
}

// tidyDevice makes a device's name fit to be kept and shown: one line, at most
// 60 characters, never empty.
func tidyDevice(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	name = strings.Join(strings.Fields(name), " ")
	if utf8.RuneCountInString(name) > 60 {
		name = strings.TrimSpace(string([]rune(name)[:60]))
	}
	if name == "" {
		return "a device without a name"
	}
	return name
}
