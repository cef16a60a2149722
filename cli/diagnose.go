package cli

import (
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/server"
	"bagmark/store"
)

// diagnosing is a look at an installation under way. It changes nothing in the
// farm.
type diagnosing struct {
	*call
	data, backupTo string
	now            time.Time
	facts          store.Facts
	wrong          int
}

func diagnose(c *call) error {
	d := &diagnosing{call: c, now: time.Now()}
	c.StringVar(&d.data, "data", "", "the farm's `folder`")
	c.StringVar(&d.backupTo, "backup-to", "", "the `folder` that gets a backup a day")
	noPhone := c.Bool("no-phone", false, "do not wait for a phone to open the address on the labels")
	if err := c.parse("data"); err != nil {
		return err
	}
	sqlite, err := store.Version()
	if err != nil {
		return err
	}
	d.fine("versions", "bagmark %s, Go %s, SQLite %s, %s/%s", Version(), strings.TrimPrefix(runtime.Version(), "go"), sqlite, runtime.GOOS, runtime.GOARCH)
	if d.facts, err = store.Look(c.ctx, d.data); err != nil {
		if !store.HoldsFarm(d.data) {
			return err
		}
		d.folder()
		d.disk() // a full one keeps the database from being opened
		d.bad("database", "%s", err)
		return d.verdict()
	}
	for _, look := range []func(){d.folder, d.disk, d.database, d.clock, d.zone, d.certificate, d.backups} {
		look()
	}
	running := d.server()
	if address := server.FarmAddress(d.facts.Farm); d.address(address) && !*noPhone {
		d.phone(address, running)
	}
	return d.verdict()
}

func (d *diagnosing) verdict() error {
	if d.wrong > 0 {
		return grow.Errorf(grow.Internal, "%d to look at", d.wrong)
	}
	return nil
}

func (d *diagnosing) say(mark, what, format string, args ...any) {
	fmt.Fprintf(d.stdout, "%-5s %-12s %s\n", mark, what, fmt.Sprintf(format, args...))
}

func (d *diagnosing) fine(what, format string, args ...any) { d.say("ok", what, format, args...) }

func (d *diagnosing) bad(what, format string, args ...any) {
	d.wrong++
	d.say("LOOK", what, format, args...)
}

func (d *diagnosing) folder() {
	info, err := os.Stat(d.data)
	switch {
	case err != nil:
		d.bad("folder", "%s cannot be looked at: %s", d.data, err)
	case runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0:
		d.bad("folder", "%s may be opened by others of this computer (its mode is %o): chmod 700 keeps the records to their owner", d.data, info.Mode().Perm())
	default:
		d.fine("folder", "%s, the database has %s", d.data, bytesWords(d.facts.Bytes))
	}
}

// disk wants room for the write-ahead log and for the copy that a backup makes.
func (d *diagnosing) disk() {
	free, kind, err := diskOf(d.data)
	switch need := 2*d.facts.Bytes + 200<<20; {
	case err != nil:
		d.bad("disk", "its room cannot be read: %s", err)
	case kind != "":
		d.bad("disk", "the folder lies on %s: SQLite cannot lock files there reliably; put it on a disk of this computer", kind)
	case free < need:
		d.bad("disk", "%s free; less than %s is too little to go on safely", bytesWords(free), bytesWords(need))
	default:
		d.fine("disk", "%s free", bytesWords(free))
	}
}

func (d *diagnosing) database() {
	switch f := d.facts; {
	case f.Schema > f.Newest:
		d.bad("database", "it was last used by a newer bagmark (version %d, this program knows %d): use the newer program", f.Schema, f.Newest)
	case f.Schema < f.Newest:
		d.bad("database", "it is of version %d, this program's is %d: serve brings it up to date and keeps a copy of what it was", f.Schema, f.Newest)
	default:
		d.fine("database", "version %d, write-ahead log; check verifies every record", f.Schema)
	}
}

func (d *diagnosing) clock() {
	switch zone := d.facts.Farm.Zone; {
	case d.now.Add(grow.AheadLimit).Before(d.facts.Heard):
		d.bad("clock", "it says %s, but an entry was received on %s: it was set back, or wrong then", inWords(d.now, zone), inWords(d.facts.Heard, zone))
	default:
		d.fine("clock", "%s on the farm; compare it with a phone", inWords(d.now, zone))
	}
}

func (d *diagnosing) zone() {
	farm, machine := d.facts.Farm.Zone, machineZone(d.getenv, "/etc")
	zone, err := time.LoadLocation(machine)
	_, ours := d.now.In(farm).Zone()
	if err == nil {
		if _, theirs := d.now.In(zone).Zone(); ours != theirs {
			d.bad("time zone", "the farm's days are those of %s, the computer's of %s: if that is wrong, change it under Settings", farm, machine)
			return
		}
	}
	d.fine("time zone", "%s", farm)
}

func (d *diagnosing) certificate() {
	path := filepath.Join(d.data, "tls", "ca.crt")
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		d.fine("certificate", "none: HTTPS has never been on here")
		return
	}
	block, _ := pem.Decode(data)
	if err != nil || block == nil {
		d.bad("certificate", "%s cannot be read", path)
		return
	}
	c, err := x509.ParseCertificate(block.Bytes)
	switch {
	case err != nil:
		d.bad("certificate", "%s is damaged", path)
	case d.now.AddDate(0, 3, 0).After(c.NotAfter):
		d.bad("certificate", "the farm's authority ends on %s; every phone has to trust the next one anew", c.NotAfter.Format("2 Jan 2006"))
	default:
		d.fine("certificate", "the farm's authority is good until %s", c.NotAfter.Format("2 Jan 2006"))
	}
}

func (d *diagnosing) backups() {
	if d.backupTo == "" {
		d.bad("backup", "no folder for backups was named here: -backup-to DIR says how old the last one is, and makes one a day with serve")
		return
	}
	last, err := store.LastBackup(d.backupTo)
	switch {
	case err != nil:
		d.bad("backup", "%s", messageOf(err))
	case last.IsZero():
		d.bad("backup", "there is none in %s yet", d.backupTo)
	case d.now.Sub(last) > 26*time.Hour:
		d.bad("backup", "the last one is of %s", inWords(last, d.facts.Farm.Zone))
	default:
		d.fine("backup", "the last one is of %s", inWords(last, d.facts.Farm.Zone))
	}
}

// server asks whether one answers where the farm was last served.
func (d *diagnosing) server() (running bool) {
	listened, err := url.Parse(d.facts.Farm.Listened)
	if err != nil || listened.Port() == "" {
		d.fine("server", "this farm was never served")
		return false
	}
	host := listened.Hostname()
	if a, err := netip.ParseAddr(host); err == nil && a.IsUnspecified() {
		host = "127.0.0.1"
	}
	client := http.Client{Timeout: 3 * time.Second}
	answer, err := client.Get("http://" + net.JoinHostPort(host, listened.Port()) + "/healthz")
	if err != nil {
		d.fine("server", "none answers on port %s", listened.Port())
		return false
	}
	defer answer.Body.Close()
	d.fine("server", "one answers on port %s: %s", listened.Port(), answer.Status)
	return true
}

// address tells whether other devices can know the address on the labels.
func (d *diagnosing) address(a grow.Address) bool {
	u, err := url.Parse(strings.ToLower(string(a)))
	if err != nil {
		d.bad("labels", "their address %s is none", a)
		return false
	}
	ip, err := netip.ParseAddr(u.Hostname())
	switch {
	case u.Hostname() == "localhost" || err == nil && ip.IsLoopback():
		d.bad("labels", "they would carry %s, which is this computer for itself: set the address under Settings, or with serve -public", u)
		return false
	case err == nil && !ownAddress(ip):
		d.bad("labels", "they carry %s, which is no address of this computer any more: give it back in the router, or set the new one under Settings", u)
		return false
	}
	d.fine("labels", "they carry %s", u)
	return true
}

func ownAddress(ip netip.Addr) bool {
	all, err := net.InterfaceAddrs()
	for _, a := range all {
		if p, parseErr := netip.ParsePrefix(a.String()); parseErr == nil && p.Addr().Unmap() == ip {
			return true
		}
	}
	return err != nil // nothing can be said
}

func inWords(t time.Time, zone *time.Location) string { return t.In(zone).Format("2 Jan 2006 15:04") }

func bytesWords(n int64) string {
	if n >= 1<<30 {
		return fmt.Sprintf("%.1f GB", float64(n)/(1<<30))
	}
	if n < 1<<20 {
		return fmt.Sprintf("%d kB", (n+1<<10-1)>>10)
	}
	return fmt.Sprintf("%d MB", n>>20)
}
