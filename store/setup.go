package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"bagmark/grow"
)

// FirstRun is what the first page asks: the farm's settings, its owner, and
// the usual days to grown over where the owner's bags differ from the books.
type FirstRun struct {
	Settings
	OwnerName, Passphrase, DeviceName string
	SpeciesDays                       []grow.Override
	Over                              Over
	Most                              Role // limits the owner's first sign-in; "" for no limit
}

func (r *FirstRun) validate(f *Farm) error {
	p := grow.Problems{}
	var wrong *grow.Error
	if errors.As(r.Settings.validate(f.Knows), &wrong) {
		p = wrong.Fields
	}
	checkPersonName(&p, "owner_name", r.OwnerName)
	checkPassphrase(&p, "passphrase", r.Passphrase, r.OwnerName)
	for i, o := range r.SpeciesDays {
		field := fmt.Sprintf("species_days[%d]", i)
		if !f.Knows(o.Slug) {
			p.Add(field, "%q is not a species this farm knows", o.Slug)
		} else if err := o.Validate(); err != nil {
			p.Add(field, "%s", err)
		}
	}
	return p.Err("the farm cannot be set up like this")
}

// SetUp makes the farm's first owner and keeps its settings. It works once;
// then it is [grow.Conflict].
func (s *Store) SetUp(ctx context.Context, r FirstRun) (Session, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return Session{}, err
	}
	done := grow.Errorf(grow.Conflict, "this farm has been set up already; sign in")
	if farm.SetUp {
		return Session{}, done
	}
	r.OwnerName = oneSpaced(r.OwnerName)
	if err := r.validate(farm); err != nil {
		return Session{}, err
	}
	kept, err := hashPassphrase(ctx, s.random, r.Passphrase)
	if err != nil {
		return Session{}, err
	}
	var in Session
	err = s.writing(ctx, func(t *tx) error {
		t.farmChanged()
		first, err := t.exec(`UPDATE farm SET set_up_at = ? WHERE set_up_at IS NULL`, micros(t.now))
		if err != nil {
			return err
		}
		if n, err := first.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, done)
		}
		in, err = t.setUp(r, kept)
		return err
	})
	return in, err
}

func (t *tx) setUp(r FirstRun, kept string) (Session, error) {
	if r.F0Target == 0 && r.F0TargetSteam == 0 { // nobody was asked: the usual ones stand
		farm, err := t.loadFarm()
		if err != nil {
			return Session{}, err
		}
		r.F0Target, r.F0TargetSteam = farm.F0Target, farm.F0TargetSteam
	}
	if err := t.putSettings(r.Settings); err != nil {
		return Session{}, err
	}
	for _, o := range r.SpeciesDays {
		if err := t.putSpecies(o); err != nil {
			return Session{}, err
		}
	}
	id, err := t.insertPerson(r.OwnerName, Owner, kept)
	if err != nil {
		return Session{}, err
	}
	zone, err := time.LoadLocation(r.TimeZone)
	if err != nil {
		return Session{}, err
	}
	most := r.Most
	if most == "" {
		most = Owner
	}
	return t.signIn(person{id: id, name: r.OwnerName, role: Owner}, r.DeviceName, r.Over, most, zone)
}
