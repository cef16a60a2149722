package demo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/google/go-cmp/cmp"
)

// A year of the farm goes out as a spreadsheet, is saved again by a spreadsheet program with its habits (byte order
// mark, semicolons, CR LF, every cell quoted, columns in another order: common practice) and comes into an empty farm
// with the same facts, which then says the same of the flow hood. Days written day first are refused with a sentence.
func TestYearThroughASpreadsheet(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, time.November, 25, 9, 0, 0, 0, time.UTC)
	m := makeAt(t, now)
	rows := exported(t, m.Store)
	other, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: func() time.Time { return now }, TimeZone: Zone})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { other.Close() })
	by := store.Actor{Person: "Maren", Role: store.Owner}

	at := slices.Index(rows[0], "inoculated_on")
	wrong := slices.Clone(rows[1])
	made, err := grow.ParseDate(wrong[at])
	if err != nil {
		t.Fatal(err)
	}
	wrong[at] = made.Time().Format("02/01/2006")
	_, err = other.Import(t.Context(), by, savedAgain([][]string{rows[0], wrong}))
	if grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), "the year comes first") {
		t.Errorf("a day written %s: %v", wrong[at], err)
	}

	if _, err := other.Import(t.Context(), by, savedAgain(rows)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(facts(rows), facts(exported(t, other))); diff != "" {
		t.Error(diff)
	}
	for _, key := range []string{"flow_hood", "recipe"} {
		if diff := cmp.Diff(said(t, m.Store, key), said(t, other, key)); diff != "" {
			t.Errorf("by %s: %s", key, diff)
		}
	}
}

// savedAgain is what a spreadsheet program makes of rows, the columns turned round.
func savedAgain(rows [][]string) []byte {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	for _, row := range rows {
		row = slices.Clone(row)
		slices.Reverse(row)
		for i, cell := range row {
			if i > 0 {
				b.WriteByte(';')
			}
			b.WriteString(`"` + strings.ReplaceAll(cell, `"`, `""`) + `"`)
		}
		b.WriteString("\r\n")
	}
	return b.Bytes()
}

func exported(t *testing.T, s *store.Store) [][]string {
	t.Helper()
	var b bytes.Buffer
	if err := s.ExportBags(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// facts are the rows without what an import skips, and without the names that each farm gives its batches.
func facts(rows [][]string) []string {
	var out []string
	for _, row := range rows {
		var cells []string
		for i, cell := range row {
			if name := rows[0][i]; name != "batch" && !strings.HasPrefix(name, "more:") {
				cells = append(cells, name+"="+cell)
			}
		}
		slices.Sort(cells)
		out = append(out, strings.Join(cells, " "))
	}
	slices.Sort(out)
	return out
}

// said is what a farm says of each value of a condition.
func said(t *testing.T, s *store.Store, key string) (out []string) {
	t.Helper()
	c, err := s.Contamination(t.Context(), store.ContaminationQuery{By: key})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range c.Rows {
		out = append(out, fmt.Sprintf("%s: %s, %d of %d against %d of %d, p %.6g", r.Value, r.Verdict, r.With.Contaminated, r.With.Bags, r.Without.Contaminated, r.Without.Bags, *r.P))
	}
	return out
}
