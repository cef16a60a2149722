package cli

import (
	"os"
	"path/filepath"
	"testing"
)

func TestMachineZone(t *testing.T) {
	t.Parallel()
	for name, test := range map[string]struct {
		tz, timezone, localtime, want string
	}{
		"environment":              {tz: "Asia/Kathmandu", timezone: "Europe/Lisbon\n", want: "Asia/Kathmandu"},
		"environment with a colon": {tz: ":Europe/Lisbon", want: "Europe/Lisbon"},
		"environment with a path":  {tz: ":/usr/share/zoneinfo/Europe/Lisbon", want: "Europe/Lisbon"},
		"environment by rules":     {tz: "<+0330>-3:30", timezone: "Europe/Lisbon\n", want: "UTC"},
		"file":                     {timezone: "Africa/Nairobi\n", localtime: "/usr/share/zoneinfo/Europe/Lisbon", want: "Africa/Nairobi"},
		"file with nonsense":       {timezone: "Nowhere/Land\n", localtime: "/usr/share/zoneinfo/Europe/Lisbon", want: "Europe/Lisbon"},
		"link":                     {localtime: "../usr/share/zoneinfo/America/Argentina/Ushuaia", want: "America/Argentina/Ushuaia"},
		"link to a posix zone":     {localtime: "/usr/share/zoneinfo/posix/Europe/Lisbon", want: "Europe/Lisbon"},
		"link to no zone":          {localtime: "/etc/hosts", want: "UTC"},
		"nothing":                  {want: "UTC"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			etc := t.TempDir()
			if test.timezone != "" {
				if err := os.WriteFile(filepath.Join(etc, "timezone"), []byte(test.timezone), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if test.localtime != "" {
				if err := os.Symlink(test.localtime, filepath.Join(etc, "localtime")); err != nil {
					t.Fatal(err)
				}
			}
			if got := machineZone(func(string) string { return test.tz }, etc); got != test.want {
				t.Errorf("got %s, want %s", got, test.want)
			}
		})
	}
}
