package cli

import (
	"os"
	"path/filepath"
	"strings"
	"time"
	_ "time/tzdata" // the binary carries the zone database
)

// machineZone is the IANA name of this machine's time zone, UTC if it does not
// tell: TZ, then /etc/timezone, then where /etc/localtime leads. etc is the
// folder of the latter two.
func machineZone(getenv func(string) string, etc string) string {
	if tz := strings.TrimPrefix(getenv("TZ"), ":"); tz != "" {
		return zoneOr(tz, "UTC")
	}
	if text, err := os.ReadFile(filepath.Join(etc, "timezone")); err == nil {
		if name := zoneOr(strings.TrimSpace(string(text)), ""); name != "" {
			return name
		}
	}
	target, err := filepath.EvalSymlinks(filepath.Join(etc, "localtime"))
	if link, linkErr := os.Readlink(filepath.Join(etc, "localtime")); linkErr == nil && (err != nil || strings.Contains(link, "zoneinfo/")) {
		target = link
	}
	return zoneOr(target, "UTC")
}

// zoneOr is the zone named by text, also as the path of a file of the zone
// database; otherwise if there is none of this name.
func zoneOr(text, otherwise string) string {
	if _, name, ok := strings.Cut(text, "zoneinfo/"); ok {
		text = name
	}
	text = strings.TrimPrefix(strings.TrimPrefix(text, "posix/"), "right/")
	if text == "" || text == "Local" {
		return otherwise
	}
	if _, err := time.LoadLocation(text); err != nil {
		return otherwise
	}
	return text
}
