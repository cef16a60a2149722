package cli

import (
	"fmt"

	"bagmark/grow"
	"bagmark/store"
)

func check(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	if err := c.parse("data"); err != nil {
		return err
	}
	r, err := store.Check(c.ctx, *data)
	if err != nil {
		return err
	}
	for _, p := range r.Problems {
		fmt.Fprintln(c.stdout, p)
	}
	fmt.Fprintf(c.stdout, "bags %d, entries %d, photos %d\n", r.Bags, r.Entries, r.Photos)
	if n := len(r.Problems); n > 0 {
		return withHint(grow.Errorf(grow.Internal, "the farm in %s is not in order: %d found", *data, n),
			"keep a copy of the folder as it is, then restore the last backup into a new one")
	}
	return nil
}
