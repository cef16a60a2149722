package cli

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"bagmark/store"
)

// released is the version that the release script writes into the program.
var released string

// Version is the version of bagmark: that of the release, of the module as it
// was built, or of the source where it was built from a checkout.
func Version() string {
	if released != "" {
		return released
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "unreleased"
	}
	return info.Main.Version
}

func version(c *call) error {
	if err := c.parse(); err != nil {
		return err
	}
	sqlite, err := store.Version()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.stdout, "bagmark %s\nGo %s\nSQLite %s\n", Version(), runtime.Version(), sqlite)
	return err
}
