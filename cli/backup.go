package cli

import "bagmark/store"

func backup(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	if err := c.parse("data"); err != nil {
		return err
	}
	return c.withFarm(*data, func(s *store.Store) error { return s.Backup(c.ctx, c.Arg(0)) })
}
