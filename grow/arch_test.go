package grow_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// diagram says which of the project's packages a package may import; "grow/*"
// stands for all packages under grow. A package may also import its own parts.
// Imports point downward only.
var diagram = map[string][]string{
	".":          {"cli"},
	"cli":        {"server", "store", "grow"}, // grow for the types that the store's methods take
	"server":     {"store", "scanner", "labels", "grow", "grow/*", "static"},
	"store":      {"grow", "grow/*", "migrations"},
	"scanner":    {"grow", "labels"},
	"labels":     {},
	"grow/*":     {"grow"},
	"grow":       {},
	"static":     {},
	"migrations": {},
}

// beside are the packages that import more than their box may.
var beside = map[string][]string{
	"cli/demo":   {"grow/climate", "grow/trace"}, // types that the store's methods take
	"grow/yield": {"grow/trace"},                 // one rule for what may be pointed to
}

// outside says which modules a package may import beside the standard library;
// packages not named here may import any.
var outside = map[string][]string{
	".":      {},
	"grow":   {},
	"grow/*": {"gonum.org/v1/gonum"},
}

// TestImportDiagram holds the code to the diagram. Tests may import what they
// need.
func TestImportDiagram(t *testing.T) {
	t.Parallel()
	root := projectRoot(t)
	seen := map[string]bool{}
	for dir, imports := range packageImports(t, root) {
		box := boxOf(dir)
		seen[box] = true
		allowed, known := diagram[box]
		if !known {
			t.Errorf("package %s stands in no box of the diagram", dir)
			continue
		}
		for _, i := range imports {
			if ours, ok := strings.CutPrefix(i, "bagmark/"); ok {
				part := box != "grow" && strings.HasPrefix(ours, dir+"/") // a part of itself
				if !part && !slices.Contains(allowed, boxOf(ours)) && !slices.Contains(beside[dir], ours) {
					t.Errorf("%s imports %s; it may import %v", dir, ours, allowed)
				}
				continue
			}
			if modules, strict := outside[box]; strict && isModule(i) && !slices.ContainsFunc(modules, func(m string) bool { return i == m || strings.HasPrefix(i, m+"/") }) {
				t.Errorf("%s imports %s; beside the standard library it may import %v", dir, i, modules)
			}
		}
	}
	for _, box := range []string{"grow", "grow/*", "store", "labels", "scanner", "migrations"} {
		if !seen[box] {
			t.Errorf("no package of the box %s was found under %s: the walk misses something", box, root)
		}
	}
}

// TestGrowIsPure: the trade reads no clock, no randomness, no environment, and
// touches no disk or network. Time of day comes in as an argument.
func TestGrowIsPure(t *testing.T) {
	t.Parallel()
	for dir, imports := range packageImports(t, projectRoot(t)) {
		if dir != "grow" && !strings.HasPrefix(dir, "grow/") {
			continue
		}
		for _, i := range imports {
			if slices.Contains([]string{"os", "net", "net/http", "crypto/rand", "database/sql", "log", "log/slog", "os/exec", "syscall", "io/ioutil"}, i) {
				t.Errorf("%s imports %s", dir, i)
			}
		}
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(name, "_test.go") && strings.Contains(string(text), "time.Now(") {
			t.Errorf("%s reads the clock", name)
		}
	}
}

// boxOf is the box of the diagram that a folder belongs to.
func boxOf(dir string) string {
	top, below, nested := strings.Cut(dir, "/")
	if nested && top == "grow" && below != "" {
		return "grow/*"
	}
	return top
}

// isModule tells a module's path from the standard library's: its first part
// has a dot.
func isModule(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return strings.Contains(first, ".")
}

func projectRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			t.Fatal("no go.mod above the tests")
		}
		dir = filepath.Dir(dir)
	}
}

// packageImports are the imports of every package outside its tests, by the
// package's folder.
func packageImports(t *testing.T, root string) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	err := fs.WalkDir(os.DirFS(root), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && name != "." && (strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "_") || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || path.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, name), nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		dir := path.Dir(name)
		out[dir] = append(out[dir], []string{}...)
		for _, i := range file.Imports {
			p, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			out[dir] = append(out[dir], p)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
