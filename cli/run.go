package cli

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
)

// command is one command of the program.
type command struct {
	name  string
	usage string // flags and arguments as a person writes them
	does  string
	// files is how many arguments stand behind the flags.
	files int
	run   func(*call) error
}

// commands are all of them, in the order in which they are listed.
func commands() []command {
	return []command{
		{"serve", "-data DIR [-listen ADDR] [-listen-tls ADDR] [-public URL] [-tls off|local] [-backup-to DIR]", "serve the farm in DIR, making it on first use", 0, serve},
		{"demo", "[-listen ADDR] [-data DIR] [-public URL]", "make an invented farm and serve it", 0, serveDemo},
		{"token", "-data DIR -name NAME -role owner|grower|viewer|sensor", "print a new API token, once", 0, token},
		{"passphrase", "-data DIR -name NAME", "give somebody a new passphrase, read from standard input", 0, passphrase},
		{"labels", "-data DIR -batch BATCH -sheet SHEET -o FILE.pdf [-bags 1-5,9] [-start N] [-copies N]", "write a label sheet without a server", 0, printLabels},
		{"import", "-data DIR FILE.csv", "take in bags kept in a spreadsheet until now", 1, importBags},
		{"backup", "-data DIR FILE", "write one consistent file of the whole farm", 1, backup},
		{"restore", "-data DIR FILE", "unpack a backup into a folder without a farm", 1, restore},
		{"check", "-data DIR", "verify the database, the log, every bag and photo", 0, check},
		{"diagnose", "-data DIR [-backup-to DIR] [-no-phone]", "say in plain words what is wrong with an installation", 0, diagnose},
		{"service", "[-data DIR] [-listen ADDR] [-backup-to DIR] [-user NAME] [-windows]", "print how the system keeps bagmark running", 0, service},
		{"version", "", "print the version of bagmark, Go and SQLite", 0, version},
	}
}

// call is one call of a command.
type call struct {
	*flag.FlagSet
	ctx    context.Context
	args   []string // not parsed yet
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	getenv func(string) string
	what   command
}

// errHelp says that help was asked for and given.
var errHelp = errors.New("help")

// Run runs one command. Its error is for [Report].
func Run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer, getenv func(string) string) error {
	if len(args) == 0 {
		return &wrongUsage{"say what to do", usageOfAll()}
	}
	name, rest := args[0], args[1:]
	switch name {
	case "help", "-h", "-help", "--help":
		_, err := io.WriteString(stdout, usageOfAll())
		return err
	}
	for _, c := range commands() {
		if c.name != name {
			continue
		}
		set := flag.NewFlagSet(name, flag.ContinueOnError)
		set.SetOutput(io.Discard)
		err := c.run(&call{FlagSet: set, ctx: ctx, args: rest, stdin: stdin, stdout: stdout, stderr: stderr, getenv: getenv, what: c})
		if errors.Is(err, errHelp) {
			return nil
		}
		return err
	}
	return &wrongUsage{fmt.Sprintf("there is no command %q", name), usageOfAll()}
}

// parse reads the flags and counts the arguments behind them; needed are the
// flags that must be given.
func (c *call) parse(needed ...string) error {
	err := c.Parse(c.args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		c.help()
		return errHelp
	case err != nil:
		return c.wrong("%s", err)
	case c.NArg() < c.what.files:
		return c.wrong("the file is missing")
	case c.NArg() > c.what.files:
		return c.wrong("%q is too much; flags stand before the file", c.Arg(c.what.files))
	}
	for _, name := range needed {
		if c.Lookup(name).Value.String() == "" {
			return c.wrong("-%s is missing", name)
		}
	}
	return nil
}

// wrong is the error for a call that cannot be understood.
func (c *call) wrong(format string, args ...any) error {
	return &wrongUsage{fmt.Sprintf(format, args...), "usage: " + c.what.line() + "\n"}
}

func (c *call) help() {
	fmt.Fprintf(c.stdout, "%s: %s\n\n", c.what.line(), c.what.does)
	c.SetOutput(c.stdout)
	c.PrintDefaults()
}

func (c command) line() string { return strings.TrimSpace("bagmark " + c.name + " " + c.usage) }

// usageOfAll lists the commands.
func usageOfAll() string {
	var b strings.Builder
	b.WriteString("usage: bagmark COMMAND [flags]\n\n")
	for _, c := range commands() {
		fmt.Fprintf(&b, "  %s\n        %s\n", strings.TrimSpace(c.name+" "+c.usage), c.does)
	}
	b.WriteString("\nbagmark COMMAND -h says more of one.\n")
	return b.String()
}
