package trace

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// The reference values of testdata/statistics were made with R 4.2.2 and its packages; each check names what computed
// it, and where a printed value is known its source. See the README there.
const references = "../../testdata/statistics"

// num reads a number that may be written "Inf", "NaN" or "NA", or be null for no upper end.
type num float64

func (n *num) UnmarshalJSON(b []byte) error {
	switch s := string(b); s {
	case `"Inf"`, "null":
		*n = num(math.Inf(1))
	case `"NaN"`, `"NA"`:
		*n = num(math.NaN())
	default:
		x, err := strconv.ParseFloat(s, 64)
		*n = num(x)
		return err
	}
	return nil
}

// vector reads a list of numbers or a single one.
type vector []float64

func (v *vector) UnmarshalJSON(b []byte) error {
	var list []num
	if len(b) == 0 || b[0] != '[' {
		list = make([]num, 1)
		if err := json.Unmarshal(b, &list[0]); err != nil {
			return err
		}
	} else if err := json.Unmarshal(b, &list); err != nil {
		return err
	}
	for _, x := range list {
		*v = append(*v, float64(x))
	}
	return nil
}

type check struct {
	ID, Method string
	Section    int
	Input      json.RawMessage
	Expect     map[string]json.RawMessage
	Tolerance  float64
	Published  *struct {
		Status, Source string
		Decimals       int
		Values         map[string]vector
	}
}

// in decodes the check's input.
func in[T any](t *testing.T, c check) T {
	t.Helper()
	var v T
	if err := json.Unmarshal(c.Input, &v); err != nil {
		t.Fatalf("%s: input: %v", c.ID, err)
	}
	return v
}

func loadChecks(t testing.TB) []check {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(references, "checks.json"))
	if err != nil {
		t.Fatal(err)
	}
	var f struct{ Checks []check }
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	return f.Checks
}

// results are what the package gives for one check, by the names the check uses: numbers, lists of them, strings.
type results map[string]any

func (r results) vector(t *testing.T, key string) vector {
	t.Helper()
	switch x := r[key].(type) {
	case float64:
		return vector{x}
	case int:
		return vector{float64(x)}
	case []float64:
		return x
	}
	t.Fatalf("%s: no result of a usable kind: %v", key, r[key])
	return nil
}

// compare holds results against a check: every expected value that is not left out on purpose, then the published
// ones after rounding.
func (c check) compare(t *testing.T, got results, leftOut ...string) {
	t.Helper()
	for key, raw := range c.Expect {
		if slices.Contains(leftOut, key) {
			continue
		}
		var words []string
		if json.Unmarshal(raw, &words) == nil && !isNumbers(raw) {
			if fmt.Sprint(got[key]) != fmt.Sprint(words) {
				t.Errorf("%s: got %v, want %v", key, got[key], words)
			}
			continue
		}
		var want vector
		if err := json.Unmarshal(raw, &want); err != nil {
			t.Fatalf("%s: %v", key, err)
		}
		closeTo(t, key, got.vector(t, key), want, c.Tolerance)
	}
	if c.Published == nil {
		return
	}
	for key, want := range c.Published.Values {
		if slices.Contains(leftOut, key) {
			continue
		}
		closeTo(t, key+" as printed", got.vector(t, key), want, 0.5001*math.Pow(10, -float64(c.Published.Decimals)))
	}
}

func isNumbers(raw json.RawMessage) bool {
	var v vector
	return json.Unmarshal(raw, &v) == nil
}

// closeTo is absolute below 1 and relative above; not defined matches only not defined.
func closeTo(t *testing.T, what string, got, want vector, tolerance float64) {
	t.Helper()
	if len(got) < len(want) {
		t.Fatalf("%s: got %d values, want %d", what, len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g == w || math.IsNaN(g) && math.IsNaN(w) || math.Abs(g-w) <= tolerance*math.Max(1, math.Abs(w)) {
			continue
		}
		t.Errorf("%s[%d]: got %.12g, want %.12g within %g", what, i, g, w, tolerance)
	}
}

// table reads a data file's columns.
func table(t testing.TB, name string) map[string][]string {
	t.Helper()
	f, err := os.Open(filepath.Join(references, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make(map[string][]string)
	for _, r := range rows[1:] {
		for i, h := range rows[0] {
			out[h] = append(out[h], r[i])
		}
	}
	return out
}

// numbers turns a column into numbers; an empty cell is +Inf.
func numbers(t testing.TB, cells []string) []float64 {
	t.Helper()
	out := make([]float64, len(cells))
	for i, s := range cells {
		if s == "" {
			out[i] = math.Inf(1)
			continue
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = x
	}
	return out
}
