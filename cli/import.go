package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/store"
)

// importMost is the largest spreadsheet that is taken in, in bytes.
const importMost = 20 << 20

// importer signs what an import on the farm's own computer makes: whoever may
// write the folder is its owner.
var importer = store.Actor{Person: "import", Device: "this computer", Role: store.Owner}

// importBags takes in bags kept in a spreadsheet. A farm that is not there yet
// is made.
func importBags(c *call) error {
	data := c.String("data", "", "the farm's `folder`, made on first use")
	if err := c.parse("data"); err != nil {
		return err
	}
	sheet, err := readSheet(c.Arg(0))
	if err != nil {
		return err
	}
	s, err := store.Open(c.ctx, *data, store.Options{Alone: true, TimeZone: machineZone(c.getenv, "/etc")})
	if err != nil {
		return err
	}
	made, err := s.Import(c.ctx, importer, sheet)
	if err = errors.Join(lineByLine(err), s.Close()); err != nil {
		return err
	}
	fmt.Fprintln(c.stdout, madeWords(made))
	if len(made.Conditions) > 0 {
		fmt.Fprintf(c.stdout, "new conditions: %s; say what is normal under Conditions\n", keysOf(made.Conditions))
	}
	return nil
}

// readSheet reads no more of a file than a spreadsheet may have.
func readSheet(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &grow.Error{Kind: grow.NotFound, Message: "the file " + path + " cannot be read", Cause: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, importMost+1))
	switch {
	case err != nil:
		return nil, &grow.Error{Kind: grow.Invalid, Message: "the file " + path + " cannot be read: " + err.Error(), Cause: err}
	case len(data) > importMost:
		return nil, grow.Errorf(grow.TooLarge, "the file %s is too large: at most %d MiB", path, importMost>>20)
	}
	return data, nil
}

// lineByLine names the faulty rows of a spreadsheet in their order, line 9
// before line 10.
func lineByLine(err error) error {
	var e *grow.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return err
	}
	lines := slices.SortedFunc(maps.Keys(e.Fields), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
	})
	for i, line := range lines {
		lines[i] = line + ": " + e.Fields[line]
	}
	return &grow.Error{Kind: e.Kind, Message: e.Message + " (" + strings.Join(lines, "; ") + ")", Cause: err}
}

func madeWords(made store.Imported) string {
	return fmt.Sprintf("made %s with %s and %s", count(len(made.Batches), "batch", "batches"), count(made.Bags, "bag", "bags"), count(made.Entries, "entry", "entries"))
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func keysOf(conditions []grow.Condition) string {
	var keys []string
	for _, c := range conditions {
		keys = append(keys, c.Key)
	}
	return strings.Join(keys, ", ")
}
