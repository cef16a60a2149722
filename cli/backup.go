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
		fmt.Fprintf(c.stdout, "%s: %s, read again and whole: %s, %s, %s\n", path, sizeWords(info.Size()),
			count(r.Bags, "bag", "bags"), count(r.Entries, "entry", "entries"), count(r.Photos, "photo", "photos"))
		return nil
	})
}

// sizeWords is a file's size as people say it.
func sizeWords(bytes int64) string {
	const kB, MB, GB = 1e3, 1e6, 1e9
	switch n := float64(bytes); {
	case n < MB:
		return fmt.Sprintf("%.0f kB", n/kB)
	case n < GB:
		return fmt.Sprintf("%.1f MB", n/MB)
	default:
		return fmt.Sprintf("%.1f GB", n/GB)
	}
}
