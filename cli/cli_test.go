package cli_test

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"bagmark/cli"
	"bagmark/grow"
	"bagmark/store"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"bagmark": bagmark, "bagmark-wrong-clock": bagmarkWrongClock})
}

// bagmark is the program as main has it.
func bagmark() {
	os.Exit(cli.Report(os.Stderr, cli.Run(cli.UntilSignal(context.Background()), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv)))
}

// The stories in testdata, one a file.
func TestStories(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			port, err := freePort()
			e.Setenv("PORT", port)
			e.Setenv("TZ", "UTC")
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "newfarm": newFarm, "answers": answers, "get": get, "terminate": terminate, "damage": damage, "waitfor": waitFor,
		},
	})
}

func freePort() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	defer l.Close()
	return strconv.Itoa(l.Addr().(*net.TCPAddr).Port), nil
}

// exits runs a program and compares its exit status: exits 2 bagmark serve.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

// newFarm makes a farm with one batch of twelve, whose code is left in BATCH:
// newfarm DIR.
func newFarm(ts *testscript.TestScript, _ bool, args []string) {
	ctx := context.Background()
	s, err := store.Open(ctx, ts.MkAbs(args[0]), store.Options{})
	ts.Check(err)
	made := grow.BatchDraft{BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: time.Now()}, Bags: 12}
	b, _, _, err := s.CreateBatch(ctx, store.Actor{Person: "test", Device: "test", Role: store.Owner}, made)
	ts.Check(err)
	ts.Check(s.Close())
	ts.Setenv("BATCH", string(b.Code))
}

// answers waits until a server answers: answers http://127.0.0.1:$PORT.
func answers(ts *testscript.TestScript, _ bool, args []string) {
	deadline := time.Now().Add(90 * time.Second)
	for {
		r, err := http.Get(args[0] + "/healthz")
		if err == nil {
			r.Body.Close()
			return
		}
		if time.Now().After(deadline) {
			ts.Fatalf("%s does not answer: %v", args[0], err)
		}
		<-time.After(20 * time.Millisecond)
	}
}

// get fetches a page with the token in a file into a file: get URL TOKEN FILE.
func get(ts *testscript.TestScript, _ bool, args []string) {
	request, err := http.NewRequest(http.MethodGet, args[0], nil)
	ts.Check(err)
	token := ts.ReadFile(args[1])
	request.Header.Set("Authorization", "Bearer "+token[:len(token)-1])
	r, err := http.DefaultClient.Do(request)
	ts.Check(err)
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK {
		ts.Fatalf("%s answers %s", args[0], r.Status)
	}
	f, err := os.Create(ts.MkAbs(args[2]))
	ts.Check(err)
	_, err = f.ReadFrom(r.Body)
	ts.Check(errors.Join(err, f.Close()))
}

// waitFor waits for a file that something running makes: waitfor PATTERN.
func waitFor(ts *testscript.TestScript, _ bool, args []string) {
	for range 200 {
		if found, err := filepath.Glob(ts.MkAbs(args[0])); err != nil || len(found) > 0 {
			ts.Check(err)
			return
		}
		time.Sleep(50 * time.Millisecond) // another process makes it
	}
	ts.Fatalf("%s was not made", args[0])
}

// terminate asks all programs in the background to end, and again at once, as
// timeout(1) does: to the program, then to its group.
func terminate(ts *testscript.TestScript, _ bool, _ []string) {
	for _, c := range ts.BackgroundCmds() {
		ts.Check(c.Process.Signal(syscall.SIGTERM))
		if err := c.Process.Signal(syscall.SIGTERM); !errors.Is(err, os.ErrProcessDone) {
			ts.Check(err)
		}
	}
}

// damage writes over the middle of a file: damage FILE.
func damage(ts *testscript.TestScript, _ bool, args []string) {
	path := ts.MkAbs(args[0])
	info, err := os.Stat(path)
	ts.Check(err)
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	ts.Check(err)
	const page = 4096
	_, err = f.WriteAt(bytes.Repeat([]byte("no longer what it was "), page/10), info.Size()/2&^(page-1))
	ts.Check(errors.Join(err, f.Close()))
}
