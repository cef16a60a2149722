package store

import (
	"context"
	"database/sql"
	"encoding/base32"
	"errors"
	"io"
	"strings"
	"time"

	"bagmark/grow"
)

// Pairing rules
//
// The office screen shows a symbol with a pairing secret. It lives for two
// minutes, works once, and only while the device that showed it is signed in.
// Looking at it uses nothing up; joining does, in one transaction. The device
// that joins acts for the person named at the start, and never with more than a
// grower's rights.

const (
	pairingLife = 120 * time.Second
	// pairingShown is how long the office screen tells of a pairing.
	pairingShown  = 24 * time.Hour
	pairingLength = 26 // symbols of five bits: 128 bits and two zeros
)

// crockford is Crockford's Base 32: no I, L, O or U.
var crockford = base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").WithPadding(base32.NoPadding)

// Pairing is an invitation to join as a person.
type Pairing struct {
	Person    string       `json:"person"`
	State     PairingState `json:"state"`
	MadeAt    time.Time    `json:"made_at"`
	ExpiresAt time.Time    `json:"expires_at"`
	DeviceID  int64        `json:"device_id,omitempty"` // who joined; revoke it to refuse it
	Device    string       `json:"device,omitempty"`
}

// PairingState says how far a pairing has come.
type PairingState string

// The states of a pairing.
const (
	PairingWaiting PairingState = "waiting"
	PairingJoined  PairingState = "joined"
	PairingTooOld  PairingState = "too_old"
)

// StartPairing invites one more device of the person who asks.
func (s *Store) StartPairing(ctx context.Context, a Actor) (secret string, expires time.Time, err error) {
	return s.StartPairingFor(ctx, a, a.PersonID)
}

// StartPairingFor invites a device of any person; for somebody else only an
// owner may. A symbol that the same device showed before is then worth nothing.
func (s *Store) StartPairingFor(ctx context.Context, a Actor, personID int64) (secret string, expires time.Time, err error) {
	if a.PersonID == 0 {
		return "", expires, grow.Errorf(grow.Forbidden, "a token cannot invite a device; sign in as a person")
	}
	if personID != a.PersonID {
		if err := mustBeOwner(a); err != nil {
			return "", expires, err
		}
	}
	var b [16]byte
	if _, err := io.ReadFull(s.random, b[:]); err != nil {
		return "", expires, noRandom(err)
	}
	secret = crockford.EncodeToString(b[:])
	zone := s.Zone(ctx)
	err = s.writing(ctx, func(t *tx) error {
		if _, err := t.working(personID); err != nil {
			return err
		}
		if _, err := t.exec(`DELETE FROM pairings WHERE by_device = ?1 AND device_id IS NULL OR made_at < ?2`, a.DeviceID, micros(t.now.Add(-pairingShown))); err != nil {
			return err
		}
		expires = t.now.Add(pairingLife).In(zone)
		_, err := t.exec(`INSERT INTO pairings (sha256, by_device, person_id, made_at, expires_at) VALUES (?, ?, ?, ?, ?)`,
			secretSum(secret), a.DeviceID, personID, micros(t.now), micros(expires))
		return err
	})
	return secret, expires, err
}

// pairingSum is the hash of a pairing secret as somebody may have typed it.
func pairingSum(secret string) []byte {
	return secretSum(strings.NewReplacer("I", "1", "L", "1", "O", "0").Replace(strings.ToUpper(secret)))
}

// openPairing is the condition under which a pairing may still be used. ?1 is
// its hash, ?2 the time.
const openPairing = `x.sha256 = ?1 AND x.device_id IS NULL AND x.expires_at > ?2 AND p.ended_at IS NULL AND d.revoked_at IS NULL`

func pairingOver() error {
	return grow.Errorf(grow.NotFound, "this symbol has been used or is more than two minutes old; let the office screen show a new one")
}

// PairingOf tells what joining would mean. It uses nothing up.
func (s *Store) PairingOf(ctx context.Context, secret string) (Pairing, error) {
	zone := s.Zone(ctx)
	out := Pairing{State: PairingWaiting}
	err := s.reading(ctx, func(t *tx) error {
		var made, expires int64
		err := t.one(`SELECT p.name, x.made_at, x.expires_at FROM pairings x JOIN people p ON p.id = x.person_id JOIN devices d ON d.id = x.by_device
			WHERE `+openPairing, []any{pairingSum(secret), micros(t.now)}, &out.Person, &made, &expires)
		out.MadeAt, out.ExpiresAt = instant(made, zone), instant(expires, zone)
		if errors.Is(err, sql.ErrNoRows) {
			return pairingOver()
		}
		return err
	})
	return out, err
}

// Pair joins: it uses the pairing up and signs the device in.
func (s *Store) Pair(ctx context.Context, secret, deviceName string, over Over) (Session, error) {
	zone := s.Zone(ctx)
	var in Session
	err := s.writing(ctx, func(t *tx) error {
		var p person
		sum := pairingSum(secret)
		err := t.one(`SELECT p.id, p.name, p.role FROM pairings x JOIN people p ON p.id = x.person_id JOIN devices d ON d.id = x.by_device
			WHERE `+openPairing, []any{sum, micros(t.now)}, &p.id, &p.name, &p.role)
		if errors.Is(err, sql.ErrNoRows) {
			return pairingOver()
		}
		if err != nil {
			return err
		}
		if in, err = t.signIn(p, deviceName, over, Grower, zone); err != nil {
			return err
		}
		used, err := t.exec(`UPDATE pairings SET device_id = ?1 WHERE sha256 = ?2 AND device_id IS NULL AND expires_at > ?3`, in.Actor.DeviceID, sum, micros(t.now))
		if err != nil {
			return err
		}
		if n, err := used.RowsAffected(); err != nil || n != 1 {
			return errors.Join(err, pairingOver())
		}
		return nil
	})
	return in, err
}

// PairedBy are the pairings that a device started, newest first.
func (s *Store) PairedBy(ctx context.Context, a Actor) ([]Pairing, error) {
	zone := s.Zone(ctx)
	out := []Pairing{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT p.name, x.made_at, x.expires_at, coalesce(j.id, 0), coalesce(j.name, '')
			FROM pairings x JOIN people p ON p.id = x.person_id LEFT JOIN devices j ON j.id = x.device_id
			WHERE x.by_device = ? ORDER BY x.made_at DESC`, []any{a.DeviceID}, func(rows *sql.Rows) error {
			var v Pairing
			var made, expires int64
			err := rows.Scan(&v.Person, &made, &expires, &v.DeviceID, &v.Device)
			v.MadeAt, v.ExpiresAt = instant(made, zone), instant(expires, zone)
			switch {
			case v.DeviceID != 0:
				v.State = PairingJoined
			case t.now.Before(v.ExpiresAt):
				v.State = PairingWaiting
			default:
				v.State = PairingTooOld
			}
			out = append(out, v)
			return err
		})
	})
	return out, err
}
