package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"bagmark/grow"
)

// Person is somebody who works on the farm. A name is never given twice, not
// even after its person has ended, because the log speaks in names.
type Person struct {
	ID            int64      `json:"id"`
	Name          string     `json:"name"`
	Role          Role       `json:"role"`
	HasPassphrase bool       `json:"has_passphrase"` // false: joins by pairing only
	MadeAt        time.Time  `json:"made_at"`
	EndedAt       *time.Time `json:"ended_at"`
}

// person is a row of people as rules need it.
type person struct {
	id         int64
	name       string
	role       Role
	passphrase string // as hashed, "" for none
}

// person reads one person; none is [grow.NotFound].
func (t *tx) person(where string, args ...any) (p person, err error) {
	err = t.one(`SELECT id, name, role, passphrase FROM people WHERE `+where, args, &p.id, &p.name, &p.role, &p.passphrase)
	if errors.Is(err, sql.ErrNoRows) {
		return p, grow.Errorf(grow.NotFound, "there is no such person on this farm")
	}
	return p, err
}

// working reads a person who has not ended.
func (t *tx) working(id int64) (person, error) { return t.person(`id = ? AND ended_at IS NULL`, id) }

// People are everybody, those who have ended last.
func (s *Store) People(ctx context.Context) ([]Person, error) {
	zone := s.Zone(ctx)
	out := []Person{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT id, name, role, passphrase <> '', made_at, ended_at FROM people ORDER BY ended_at IS NOT NULL, name_key`, nil, func(rows *sql.Rows) error {
			var p Person
			var made int64
			var ended *int64
			err := rows.Scan(&p.ID, &p.Name, &p.Role, &p.HasPassphrase, &made, &ended)
			p.MadeAt, p.EndedAt = instant(made, zone), instantOr(ended, zone)
			out = append(out, p)
			return err
		})
	})
	return out, err
}

// instantOr is a kept instant in the farm's zone, nil if there is none.
func instantOr(us *int64, zone *time.Location) *time.Time {
	if us == nil {
		return nil
	}
	at := instant(*us, zone)
	return &at
}

func mustBeOwner(a Actor) error {
	if !a.Role.May(Owner) {
		return grow.Errorf(grow.Forbidden, "only an owner of the farm may do this")
	}
	return nil
}

// AddPerson adds somebody. Without a passphrase a person joins by pairing only;
// an owner always has one.
func (s *Store) AddPerson(ctx context.Context, a Actor, name string, role Role, passphrase string) (Person, error) {
	if err := mustBeOwner(a); err != nil {
		return Person{}, err
	}
	name = oneSpaced(name)
	var p grow.Problems
	checkPersonName(&p, "name", name)
	checkPersonRole(&p, role)
	if passphrase != "" || role == Owner {
		checkPassphrase(&p, "passphrase", passphrase, name)
	}
	if err := p.Err("this person cannot be added like this"); err != nil {
		return Person{}, err
	}
	kept, err := s.hashOrNone(ctx, passphrase)
	if err != nil {
		return Person{}, err
	}
	zone := s.Zone(ctx)
	var added Person
	err = s.writing(ctx, func(t *tx) error {
		id, err := t.insertPerson(name, role, kept)
		added = Person{ID: id, Name: name, Role: role, HasPassphrase: kept != "", MadeAt: t.now.In(zone)}
		return err
	})
	return added, err
}

func (s *Store) hashOrNone(ctx context.Context, passphrase string) (string, error) {
	if passphrase == "" {
		return "", nil
	}
	return hashPassphrase(ctx, s.random, passphrase)
}

func (t *tx) insertPerson(name string, role Role, kept string) (int64, error) {
	_, err := t.person(`name_key = ?`, nameKey(name))
	if err == nil {
		return 0, &grow.Error{Kind: grow.Conflict, Message: "there is, or was, a person of this name: take one that tells them apart",
			Fields: grow.Problems{"name": "is taken"}}
	}
	if !isNotFound(err) {
		return 0, err
	}
	return t.insert(`INSERT INTO people (name, name_key, role, passphrase, made_at) VALUES (?, ?, ?, ?, ?)`,
		name, nameKey(name), string(role), kept, micros(t.now))
}

// oneSpaced is a name without spaces around it or runs of them in it.
func oneSpaced(name string) string {
	return strings.Join(strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == '\u00a0' }), " ")
}

// checkPersonName notes a problem unless a name has 1 to 60 characters on one
// line.
func checkPersonName(p *grow.Problems, field, name string) {
	n := utf8.RuneCountInString(name)
	switch {
	case nameKey(name) == "":
		p.Add(field, "is missing")
	case n > 60 || !utf8.ValidString(name):
		p.Add(field, "may have at most 60 characters")
	}
	for _, r := range name {
		if unicode.IsControl(r) {
			p.Add(field, "has a control character in it")
		}
	}
}

func checkPersonRole(p *grow.Problems, role Role) {
	if role != Owner && role != Grower && role != Viewer {
		p.Add("role", "must be owner, grower or viewer")
	}
}

// EndPerson ends somebody's time on the farm: the name stays in the log, every
// device is signed out at once.
func (s *Store) EndPerson(ctx context.Context, a Actor, id int64) error {
	if err := mustBeOwner(a); err != nil {
		return err
	}
	return s.writing(ctx, func(t *tx) error {
		p, err := t.working(id)
		if err != nil {
			return err
		}
		if err := t.keepAnOwner(p); err != nil {
			return err
		}
		if _, err := t.exec(`UPDATE people SET ended_at = ? WHERE id = ?`, micros(t.now), id); err != nil {
			return err
		}
		return t.revoke(`person_id = ?`, id)
	})
}

// ChangeRole gives somebody another role; it holds from the next request on.
func (s *Store) ChangeRole(ctx context.Context, a Actor, id int64, role Role) error {
	if err := mustBeOwner(a); err != nil {
		return err
	}
	var problems grow.Problems
	checkPersonRole(&problems, role)
	if err := problems.Err("this role cannot be given"); err != nil {
		return err
	}
	return s.writing(ctx, func(t *tx) error {
		p, err := t.working(id)
		if err != nil {
			return err
		}
		if role == Owner && p.passphrase == "" {
			return grow.Errorf(grow.Conflict, "%s has no passphrase, and an owner needs one: give one first", p.name)
		}
		if role != Owner {
			if err := t.keepAnOwner(p); err != nil {
				return err
			}
		}
		_, err = t.exec(`UPDATE people SET role = ? WHERE id = ?`, string(role), id)
		return err
	})
}

// keepAnOwner refuses if nobody else could run the farm.
func (t *tx) keepAnOwner(p person) error {
	if p.role != Owner {
		return nil
	}
	var others int
	err := t.one(`SELECT count(*) FROM people WHERE role = 'owner' AND ended_at IS NULL AND passphrase <> '' AND id <> ?`, []any{p.id}, &others)
	if err == nil && others == 0 {
		err = grow.Errorf(grow.Conflict, "%s is the farm's only owner: make somebody else an owner first", p.name)
	}
	return err
}

// ChangePassphrase gives somebody another passphrase and signs their other
// devices out. Whoever changes their own says the old one; an owner may give
// others a new one.
func (s *Store) ChangePassphrase(ctx context.Context, a Actor, id int64, old, passphrase string) error {
	if id != a.PersonID {
		if err := mustBeOwner(a); err != nil {
			return err
		}
	} else if err := s.Confirm(ctx, a, old); err != nil {
		return err
	}
	var p person
	if err := s.reading(ctx, func(t *tx) (err error) { p, err = t.working(id); return err }); err != nil {
		return err
	}
	var problems grow.Problems
	checkPassphrase(&problems, "new", passphrase, p.name)
	if err := problems.Err("this passphrase cannot be taken"); err != nil {
		return err
	}
	kept, err := hashPassphrase(ctx, s.random, passphrase)
	if err != nil {
		return err
	}
	return s.writing(ctx, func(t *tx) error {
		if _, err := t.exec(`UPDATE people SET passphrase = ? WHERE id = ?`, kept, id); err != nil {
			return err
		}
		return t.revoke(`person_id = ? AND id <> ?`, id, a.DeviceID)
	})
}

// Confirm asks a person for the passphrase once more, before something that
// cannot be taken back.
func (s *Store) Confirm(ctx context.Context, a Actor, passphrase string) error {
	var p person
	err := s.reading(ctx, func(t *tx) (err error) { p, err = t.working(a.PersonID); return err })
	if err != nil {
		return err
	}
	right, err := rightPassphrase(ctx, passphrase, p.passphrase)
	if err == nil && !right {
		err = &grow.Error{Kind: grow.Forbidden, Message: "the passphrase is wrong", Fields: grow.Problems{"old": "is wrong"}}
	}
	return err
}
