package cli_test

import (
	"bufio"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bagmark/cli"
)

// running is a server in this process.
type running struct {
	address string // from its first line
	lines   *bufio.Scanner
	stop    context.CancelFunc
	ended   chan error
}

func start(t *testing.T, getenv func(string) string, args ...string) running {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	t.Cleanup(stop)
	out, in := io.Pipe()
	r := running{lines: bufio.NewScanner(out), stop: stop, ended: make(chan error, 1)}
	go func() {
		err := cli.Run(ctx, args, strings.NewReader(""), in, io.Discard, getenv)
		in.Close()
		r.ended <- err
	}()
	if !r.lines.Scan() {
		t.Fatalf("nothing on standard output: %v", <-r.ended)
	}
	var ok bool
	if r.address, ok = strings.CutPrefix(r.lines.Text(), "listening on "); !ok {
		t.Fatalf("the first line is %q", r.lines.Text())
	}
	return r
}

// end ends the server as a signal does, and gives the other lines it printed.
func (r running) end(t *testing.T) (rest []string) {
	t.Helper()
	answer, err := http.Get(r.address + "/healthz")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		t.Errorf("healthz answers %s", answer.Status)
	}
	r.stop()
	for r.lines.Scan() {
		rest = append(rest, r.lines.Text())
	}
	if err := <-r.ended; err != nil {
		t.Error(err)
	}
	return rest
}

func noEnvironment(string) string { return "" }

// Port 0 takes a free port, and the first line says which.
func TestServeFreePort(t *testing.T) {
	t.Parallel()
	r := start(t, noEnvironment, "serve", "-data", filepath.Join(t.TempDir(), "farm"), "-listen", "127.0.0.1:0")
	if !strings.HasPrefix(r.address, "http://127.0.0.1:") || strings.HasSuffix(r.address, ":0") {
		t.Errorf("listening on %s", r.address)
	}
	r.end(t)
}

// Where the usual port is taken, the demo takes a free one; its temporary
// folder is gone afterwards.
func TestDemoBesideAnotherServer(t *testing.T) {
	t.Parallel()
	if taken, err := net.Listen("tcp", "127.0.0.1:8080"); err == nil { // else somebody has it already
		defer taken.Close()
	}
	temporary := t.TempDir()
	r := start(t, func(name string) string { return map[string]string{"TMPDIR": temporary}[name] }, "demo")
	if strings.HasSuffix(r.address, ":8080") || !strings.HasPrefix(r.address, "http://127.0.0.1:") {
		t.Errorf("listening on %s", r.address)
	}
	if rest := r.end(t); len(rest) < 2 || !strings.Contains(rest[0], "passphrase") {
		t.Errorf("after the address: %q", rest)
	}
	if left, err := os.ReadDir(temporary); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
