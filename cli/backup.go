package cli

import (
	"fmt"
	"os"

	"bagmark/store"
)

func backup(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	if err := c.parse("data"); err != nil {
		return err
	}
	path := c.Arg(0)
	return c.withFarm(*data, func(s *store.Store) error {
		r, err := s.Backup(c.ctx, path)
		if err != nil {
			return err
		}
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.stdout, "%s: %s, read again and whole: %s, %s, %s\n", path, bytesWords(info.Size()),
			count(r.Bags, "bag", "bags"), count(r.Entries, "entry", "entries"), count(r.Photos, "photo", "photos"))
		return nil
	})
}
