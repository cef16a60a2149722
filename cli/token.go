package cli

import (
	"errors"
	"fmt"
	"slices"

	"bagmark/store"
)

func token(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	name := c.String("name", "", "what the token is for")
	role := c.String("role", "", "what it may do: owner, grower, viewer or sensor")
	if err := c.parse("data", "name", "role"); err != nil {
		return err
	}
	if !slices.Contains(store.Roles, store.Role(*role)) {
		return c.wrong("-role %s: the roles are owner, grower, viewer and sensor", *role)
	}
	return c.withFarm(*data, func(s *store.Store) error {
		text, err := s.NewToken(c.ctx, *name, store.Role(*role))
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(c.stdout, text)
		return err
	})
}

// withFarm opens a farm that is there already, beside a running server if
// there is one.
func (c *call) withFarm(dir string, do func(*store.Store) error) error {
	s, err := store.Open(c.ctx, dir, store.Options{MustExist: true})
	if err != nil {
		return err
	}
	return errors.Join(do(s), s.Close())
}
