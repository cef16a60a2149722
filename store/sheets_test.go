package store

import (
	"encoding/json"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestSheetsAndCorrections(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	ctx := t.Context()
	for name, kept := range map[string]struct {
		put func(string, string) error
		all func() (map[string]json.RawMessage, error)
	}{
		"sheets":      {func(n, d string) error { return f.PutOwnSheet(ctx, n, json.RawMessage(d)) }, func() (map[string]json.RawMessage, error) { return f.OwnSheets(ctx) }},
		"corrections": {func(n, d string) error { return f.PutCorrection(ctx, n, json.RawMessage(d)) }, func() (map[string]json.RawMessage, error) { return f.Corrections(ctx) }},
	} {
		for _, step := range []struct {
			name, data string
			want       grow.ErrorKind // "" for kept
		}{
			{"roll-57x32", `{"w":57}`, ""},
			{"roll-57x32", ` {"w":58}`, ""},
			{"a4-3x7-63.5x38.1", `{}`, ""},
			{"a4-3x7-63.5x38.1", `null`, ""},
			{"never-there", ``, ""},
			{"Roll", `{}`, grow.Invalid},
			{"../roll", `{}`, grow.Invalid},
			{"roll", `[1]`, grow.Invalid},
			{"roll", `{"w":`, grow.Invalid},
			{"roll", `{"w":"` + strings.Repeat("x", 16<<10) + `"}`, grow.TooLarge},
		} {
			err := kept.put(step.name, step.data)
			if step.want != "" {
				wantKind(t, step.data, err, step.want)
			} else if err != nil {
				t.Fatal(err)
			}
		}
		got := must(kept.all())(t)
		if diff := cmp.Diff(map[string]json.RawMessage{"roll-57x32": json.RawMessage(` {"w":58}`)}, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}
