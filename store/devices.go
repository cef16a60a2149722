package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"bagmark/grow"
)

// Device is a signed-in browser or an API token.
type Device struct {
	ID        int64      `json:"id"`
	Kind      string     `json:"kind"` // browser or token
	Name      string     `json:"name"`
	PersonID  int64      `json:"person_id,omitempty"`
	Person    string     `json:"person,omitempty"`
	Role      Role       `json:"role"` // what it may do now
	MadeAt    time.Time  `json:"made_at"`
	UsedAt    time.Time  `json:"used_at"`
	ExpiresAt *time.Time `json:"expires_at"` // null: never
}

// Devices are those that can still do something, the last used first.
func (s *Store) Devices(ctx context.Context) ([]Device, error) {
	zone := s.Zone(ctx)
	out := []Device{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT d.id, d.kind, d.name, coalesce(p.id, 0), coalesce(p.name, ''), d.role, coalesce(p.role, d.role), d.made_at, d.used_at, d.expires_at
			FROM devices d LEFT JOIN people p ON p.id = d.person_id
			WHERE d.revoked_at IS NULL ORDER BY d.used_at DESC, d.id DESC`, nil, func(rows *sql.Rows) error {
			var d Device
			var limit, role Role
			var made, used int64
			var expires *int64
			err := rows.Scan(&d.ID, &d.Kind, &d.Name, &d.PersonID, &d.Person, &limit, &role, &made, &used, &expires)
			if err != nil || (proof{usedAt: used, expiresAt: expires}).over(t.now) {
				return err
			}
			d.Role, d.MadeAt, d.UsedAt, d.ExpiresAt = lesser(role, limit), instant(made, zone), instant(used, zone), instantOr(expires, zone)
			out = append(out, d)
			return nil
		})
	})
	return out, err
}

// RevokeDevice ends a device at once: its next request is refused. People end
// their own devices and those that joined by their invitation, an owner any.
func (s *Store) RevokeDevice(ctx context.Context, a Actor, id int64) error {
	return s.writing(ctx, func(t *tx) error {
		var person, inviter int64
		err := t.one(`SELECT coalesce(d.person_id, 0), coalesce(by.person_id, 0) FROM devices d
			LEFT JOIN pairings x ON x.device_id = d.id LEFT JOIN devices by ON by.id = x.by_device
			WHERE d.id = ? AND d.revoked_at IS NULL`, []any{id}, &person, &inviter)
		if errors.Is(err, sql.ErrNoRows) {
			return grow.Errorf(grow.NotFound, "there is no such device, or it has ended already")
		}
		if err != nil {
			return err
		}
		if a.PersonID == 0 || a.PersonID != person && a.PersonID != inviter {
			if err := mustBeOwner(a); err != nil {
				return err
			}
		}
		return t.revoke(`id = ?`, id)
	})
}

// NewToken makes an API token, which is never shown again. It lasts until it
// is revoked.
func (s *Store) NewToken(ctx context.Context, name string, role Role) (string, error) {
	name = oneSpaced(name)
	var p grow.Problems
	checkPersonName(&p, "name", name)
	if !slices.Contains(Roles, role) {
		p.Add("role", "must be owner, grower, viewer or sensor")
	}
	if err := p.Err("this token cannot be made"); err != nil {
		return "", err
	}
	var token string
	err := s.writing(ctx, func(t *tx) error {
		id, err := t.insert(`INSERT INTO devices (kind, name, role, made_at, used_at) VALUES ('token', ?, ?, ?, ?)`, name, string(role), micros(t.now), micros(t.now))
		if err != nil {
			return err
		}
		token, err = t.giveSecret(id, OverToken, role)
		return err
	})
	return token, err
}

// checkObject refuses what is not a JSON object of at most so many bytes.
func checkObject(data json.RawMessage, most int) error {
	if len(data) > most {
		return grow.Errorf(grow.TooLarge, "this is larger than %d bytes", most)
	}
	if !json.Valid(data) || !bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		return grow.Errorf(grow.Invalid, "this must be a JSON object")
	}
	return nil
}
