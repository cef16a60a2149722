package cli

import (
	_ "embed"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"text/template"
)

// The unit follows systemd.exec(5): a user of its own, who may write the farm's
// folder and the folder for backups and nothing else.
//
//go:embed service.unit
var serviceUnit string

//go:embed service.windows
var serviceWindows string

// service prints how the system keeps bagmark running; it changes nothing.
func service(c *call) error {
	var v struct{ Data, Listen, BackupTo, User, Program string }
	c.StringVar(&v.Data, "data", "", "the farm's `folder` (/var/lib/bagmark, or C:\\bagmark\\farm on Windows)")
	c.StringVar(&v.Listen, "listen", ":8080", "the `address` to listen on")
	c.StringVar(&v.BackupTo, "backup-to", "", "the `folder`, on another disk, that gets a backup a day")
	c.StringVar(&v.User, "user", "bagmark", "the system's `user` who runs it")
	windows := c.Bool("windows", runtime.GOOS == "windows", "the steps for Windows instead")
	if err := c.parse(); err != nil {
		return err
	}
	text, folder := serviceUnit, "/var/lib/bagmark"
	v.Program = "/usr/local/bin/bagmark"
	if *windows {
		text, folder, v.Program = serviceWindows, `C:\bagmark\farm`, `C:\bagmark\bagmark.exe`
	}
	v.Data = folderOr(v.Data, folder)
	for name, value := range map[string]string{"data": v.Data, "listen": v.Listen, "backup-to": v.BackupTo, "user": v.User} {
		if strings.ContainsAny(value, "\n\r\"'%$") || !*windows && strings.ContainsAny(value, " \\") {
			return c.wrong("-%s %q has signs that cannot stand in a service's file", name, value)
		}
	}
	page := template.Must(template.New("").Funcs(template.FuncMap{"lowPort": lowPort}).Parse(text))
	return page.Execute(c.stdout, v)
}

// folderOr is a folder as it is found from anywhere.
func folderOr(folder, otherwise string) string {
	if folder == "" {
		return otherwise
	}
	if whole, err := filepath.Abs(folder); err == nil && os.PathSeparator == '/' && !strings.Contains(folder, `:\`) {
		return whole
	}
	return folder
}

// lowPort tells whether an address has a port that is the system's.
func lowPort(address string) bool {
	_, port, err := net.SplitHostPort(address)
	n, lookupErr := net.LookupPort("tcp", port)
	return err == nil && lookupErr == nil && n > 0 && n < 1024
}
