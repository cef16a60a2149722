package cli

import "bagmark/store"

func restore(c *call) error {
	data := c.String("data", "", "the `folder` of the new farm")
	if err := c.parse("data"); err != nil {
		return err
	}
	err := store.Restore(c.ctx, *data, c.Arg(0))
	if err != nil && store.HoldsFarm(*data) {
		return withHint(err, "restore into a new folder, and take that once it is in order")
	}
	return err
}
