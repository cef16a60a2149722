package store

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// exported is what an export gives, read with the standard library's reader.
func exported(t *testing.T, write func(*bytes.Buffer) error) (text string, rows []map[string]string, head []string) {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	lines := must(csv.NewReader(strings.NewReader(b.String())).ReadAll())(t) // also refuses lines of unequal length
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[lines[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return b.String(), rows, lines[0]
}

func TestExportBags(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	text, rows, head := exported(t, func(b *bytes.Buffer) error { return f.ExportBags(t.Context(), b) })
	start := []string{"batch", "species", "inoculated_on", "bag", "strain", "spawn_lot", "steriliser_run", "recipe", "operator", "place",
		"not_colonised_on", "colonised_on", "clean_on", "contaminated_on", "what", "culled_on", "finished_on"}
	for _, key := range must(f.Farm(t.Context()))(t).Conditions.Keys() {
		start = append(start, "condition:"+key)
	}
	if diff := cmp.Diff(start, head[:len(start)]); diff != "" {
		t.Error(diff)
	}
	for _, h := range head[len(start):] {
		if !strings.HasPrefix(h, "more:") {
			t.Errorf("column %s would be refused by an import", h)
		}
	}
	if strings.Count(text, "\r\n") != len(rows)+1 || !strings.HasSuffix(text, "\r\n") {
		t.Error("the lines do not end in CR LF (RFC 4180 section 2)")
	}
	// Days are the farm's, in Lisbon.
	for i, want := range []map[string]string{
		{"bag": "1", "species": "pleurotus-eryngii", "inoculated_on": "2026-03-14", "strain": "K 7", "spawn_lot": "rye 12", "steriliser_run": "run 40",
			"recipe": "oak, 5 % bran", "operator": "Odile", "place": "room 2 > rack 3", "not_colonised_on": "2026-03-17", "colonised_on": "2026-03-19",
			"clean_on": "2026-03-19", "contaminated_on": "", "what": "", "culled_on": "", "condition:flow_hood": "on", "more:state": "colonised"},
		{"bag": "2", "not_colonised_on": "", "colonised_on": "", "clean_on": "2026-03-18", "contaminated_on": "2026-03-18", "what": "green_mould", "culled_on": "2026-03-19",
			"finished_on": "", "condition:flow_hood": "off", "more:where": "filter", "more:ended_why": "contaminated"},
		{"bag": "3", "clean_on": "2026-03-19", "condition:flow_hood": "", "more:guessed": "flow_hood=off", "more:state": "isolated"},
		{"bag": "4", "clean_on": "", "more:state": "colonising"}, // a label stuck on is no look
		{"bag": "1", "species": "pleurotus-ostreatus", "strain": "", "place": "", "condition:flow_hood": "", "more:state": "unmarked"},
	} {
		for column, cell := range want {
			if rows[i][column] != cell {
				t.Errorf("row %d: %s is %q, want %q", i+1, column, rows[i][column], cell)
			}
		}
	}
}

// A bag's own jar, or the lot that stands for it, is given by code and name.
func TestExportBagsNamesTheJar(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	lot, jars := f.lot(grow.SpawnLot, "S-31", 2)
	_, bags := f.make(f.king(3))
	f.spawned(jars[1].Code, bags[0])
	f.spawned(lot.Code, bags[1])
	_, rows, _ := exported(t, func(b *bytes.Buffer) error { return f.ExportBags(t.Context(), b) })
	for i, want := range [][2]string{{string(jars[1].Code), "S-31 jar 2"}, {string(lot.Code), "S-31"}, {"", ""}} {
		if got := [2]string{rows[i]["more:spawn_jar"], rows[i]["more:spawn_jar_name"]}; got != want {
			t.Errorf("bag %d: %q, want %q", i+1, got, want)
		}
	}
}

// What is exported can be read as a spreadsheet, and says the same.
func TestExportedBagsAreASpreadsheet(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	farm := must(f.Farm(t.Context()))(t)
	text, _, _ := exported(t, func(b *bytes.Buffer) error { return f.ExportBags(t.Context(), b) })
	read := must(grow.ReadSpreadsheet([]byte(text), grow.Reading{Species: farm.Species, Conditions: farm.Conditions, Today: grow.DateOf(f.clock.now(), farm.Zone)}))(t)
	if len(read.Batches) != 2 || len(read.New) != 0 || len(read.Batches[0].Bags) != 4 {
		t.Fatalf("read as %+v", read)
	}
	king := read.Batches[0]
	if king.On != grow.DateOn(2026, 3, 14) || *king.Fields.Recipe != "oak, 5 % bran" || *king.Fields.SpawnLot != "rye 12" {
		t.Errorf("the batch is read as %+v", king)
	}
	day := func(d int) grow.Date { return grow.DateOn(2026, 3, d) }
	want := []grow.SheetBag{
		{Line: 2, Number: 1, Place: "room 2 > rack 3", Conditions: map[string]string{"flow_hood": "on"}, What: "unsure", // as for an empty cell
			Seen: []grow.SheetDate{{Column: grow.ColumnNotColonised, On: day(17)}, {Column: grow.ColumnColonised, On: day(19)}, {Column: grow.ColumnClean, On: day(19)}}},
		{Line: 3, Number: 2, Place: "room 2 > rack 3", Conditions: map[string]string{"flow_hood": "off"}, What: "green_mould",
			Seen: []grow.SheetDate{{Column: grow.ColumnClean, On: day(18)}, {Column: grow.ColumnContaminated, On: day(18)}, {Column: grow.ColumnCulled, On: day(19)}}},
	}
	if diff := cmp.Diff(want, king.Bags[:2]); diff != "" {
		t.Error(diff)
	}
}

func TestExportBatches(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	_, rows, _ := exported(t, func(b *bytes.Buffer) error { return f.ExportBatches(t.Context(), b) })
	if len(rows) != 2 {
		t.Fatalf("%d rows", len(rows))
	}
	for column, want := range map[string]string{"bags": "4", "note": "first \"line\",\nsecond line", "condition:flow_hood": "on", "changes": "[]",
		"made_by": deskOwner, "inoculated_at": "2026-03-14T15:00:00Z", "moisture_pct": ""} {
		if rows[0][column] != want {
			t.Errorf("%s is %q, want %q", column, rows[0][column], want)
		}
	}
	if !strings.Contains(rows[0]["bag_conditions"], `"flow_hood":"off"`) {
		t.Errorf("bag_conditions: %s", rows[0]["bag_conditions"])
	}
}

func TestExportEntries(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	bags := f.stock(t)
	wrong := f.log(t, grow.Draft{Bag: bags[3].Code, Kind: grow.KindColonised, Details: grow.Details{Pct: new(55.5), Bare: []string{"top", "corners"}}})
	f.log(t, grow.Draft{Bag: bags[3].Code, Kind: grow.KindVoid, Details: grow.Details{Entry: wrong.Entries[0].ID}})
	f.log(t, grow.Draft{Bag: bags[3].Code, Kind: grow.KindCondition, Details: grow.Details{Key: "gloves", Value: grow.KnownValue("unknown")}})
	f.log(t, grow.Draft{Bag: bags[2].Code, Kind: grow.KindCondition, Details: grow.Details{Key: "gloves", Value: grow.KnownValue("no"), Basis: "guess"}})
	_, rows, head := exported(t, func(b *bytes.Buffer) error { return f.ExportEntries(t.Context(), b) })
	count := must(texts(t.Context(), f.read, `SELECT id FROM entries`))(t)
	if len(rows) != len(count) {
		t.Errorf("%d rows for %d entries", len(rows), len(count))
	}
	find := func(kind string) map[string]string {
		i := slices.IndexFunc(rows, func(r map[string]string) bool { return r["kind"] == kind && r["bag"] == string(bags[3].Code) })
		if i < 0 {
			t.Fatalf("no %s", kind)
		}
		return rows[i]
	}
	for kind, want := range map[string]map[string]string{
		"colonised": {"pct": "55.5", "bare": "top; corners", "fits": "true", "voided_by": find("void")["id"], "number": "4", "counts": "false"},
		"void":      {"entry": string(wrong.Entries[0].ID), "by": deskOwner, "device": "office", "counts": "false"},
		"condition": {"key": "gloves", "value": "unknown", "counts": "true"},
	} {
		for column, cell := range want {
			if got := find(kind)[column]; got != cell {
				t.Errorf("%s: %s is %q, want %q", kind, column, got, cell)
			}
		}
	}
	if i := slices.IndexFunc(rows, func(r map[string]string) bool { return r["basis"] == "guess" }); i < 0 || rows[i]["counts"] != "false" {
		t.Error("a guess counts")
	}
	note := rows[slices.IndexFunc(rows, func(r map[string]string) bool { return r["kind"] == "note" })]
	if note["text"] != "'=1+1, or so" {
		t.Errorf("the note is %q: a spreadsheet would reckon it", note["text"])
	}
	// Nothing that an entry may hold is left out.
	for _, d := range []grow.Entry{{Details: grow.Details{Bench: true, Seen: "x", Pct: new(1.0), Full: new(true), Bare: []string{"x"}, What: "x", Where: "x", ExtentPct: new(1.0), Sign: "x",
		Key: "x", Value: grow.KnownValue("x"), Basis: "x", Because: "x", Of: "x", On: new(grow.Date(1)), For: "x", Place: "x", Why: "x", Opening: "x", Grams: new(1.0), Flush: new(1),
		To: "x", Photo: "x", Text: "x", Entry: "x"}}} {
		for i, cell := range must(cellsOf(d, entryFields))(t) {
			if key := entryFields[i]; cell == "" && !slices.Contains([]string{"id", "kind", "at_sent", "by", "device", "voided_by"}, key) {
				t.Errorf("%s is left out", key)
			}
		}
	}
	if len(head) != 4+len(entryFields) {
		t.Errorf("%d columns", len(head))
	}
}

func TestGuardCell(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ give, want string }{
		{"", ""}, {"oak", "oak"}, {"it's", "it's"}, {"'", "'"}, {"''quoted", "''quoted"},
		{"=1+1", "'=1+1"}, {"+oak", "'+oak"}, {"-oak", "'-oak"}, {"@oak", "'@oak"}, {"\toak", "'\toak"}, {"\roak", "'\roak"},
		{"'=1+1", "''=1+1"}, {"''@x", "'''@x"},
		{"-5", "-5"}, {"+3.25", "+3.25"}, {"-.5e-3", "-.5e-3"}, {"-1,5", "'-1,5"}, {"--5", "'--5"}, {"-5-3", "'-5-3"}, {"-Inf", "'-Inf"}, {"+0x1p-2", "'+0x1p-2"},
		{"-", "'-"}, {"-5\n=1", "'-5\n=1"}, {"'-5", "''-5"}, {" =1", " =1"}, {"+1e308", "+1e308"}, {"+1e309", "'+1e309"}, {"-1e-999", "-1e-999"},
	} {
		if got := grow.GuardCell(test.give); got != test.want {
			t.Errorf("%q: got %q, want %q", test.give, got, test.want)
		}
		if got := grow.UnguardCell(grow.GuardCell(test.give)); got != test.give {
			t.Errorf("%q there and back is %q", test.give, got)
		}
	}
}

// RFC 4180 section 2, rules 5 to 7; the reader is the standard library's, which
// reads CR LF inside a cell as LF.
func FuzzCells(f *testing.F) {
	breaks := regexp.MustCompile(`\r+\n`)
	f.Add("oak, 5 % bran", "first \"line\"\r\nsecond")
	f.Add("'=1+1", "\rlone")
	f.Add("", "\xff")
	f.Add("+1e308", "+1e309")
	f.Fuzz(func(t *testing.T, a, b string) {
		a, b = breaks.ReplaceAllString(a, "\n"), breaks.ReplaceAllString(b, "\n")
		var out bytes.Buffer
		w := newCellWriter(&out)
		if err := w.line([]string{"x", a, b}); err != nil {
			t.Fatal(err)
		}
		if err := w.flush(); err != nil {
			t.Fatal(err)
		}
		got, err := csv.NewReader(&out).Read()
		if err != nil || len(got) != 3 {
			t.Fatalf("%q, %q cannot be read back: %q, %v", a, b, got, err)
		}
		for i, want := range []string{a, b} {
			if grow.UnguardCell(got[i+1]) != want {
				t.Errorf("%q came back as %q", want, got[i+1])
			}
			if first := strings.TrimLeft(got[i+1], "'"); first == got[i+1] && first != "" && strings.ContainsAny(first[:1], "=+-@\t\r") {
				if _, err := strconv.ParseFloat(first, 64); err != nil {
					t.Errorf("%q would be reckoned by a spreadsheet", first)
				}
			}
		}
	})
}

// TestExportLotsNamesWhatTheyWereMadeFrom beside the codes.
func TestExportLotsNamesWhatTheyWereMadeFrom(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars, _, err := f.CreateLot(t.Context(), f.by, grow.LotDraft{LotFields: grow.LotFields{Kind: grow.CultureLot, Name: "C-7"}, Jars: 2})
	if err != nil {
		t.Fatal(err)
	}
	from := []string{string(jars[1].Code), "C-8"}
	if _, _, _, err := f.CreateLot(t.Context(), f.by, grow.LotDraft{LotFields: grow.LotFields{Kind: grow.SpawnLot, Name: "S-1", MadeFrom: from}}); err != nil {
		t.Fatal(err)
	}
	_, rows, _ := exported(t, func(b *bytes.Buffer) error { return f.ExportLots(t.Context(), b) })
	i := slices.IndexFunc(rows, func(r map[string]string) bool { return r["lot"] == "S-1" })
	if i < 0 || rows[i]["made_from_names"] != "C-7 jar 2; C-8" || strings.Count(rows[i]["made_from"], "; ") != 1 {
		t.Errorf("%v", rows)
	}
}
