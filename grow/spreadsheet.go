package grow

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// Spreadsheet rules
//
// One row a bag, RFC 4180 with a header row, columns in any order. Rows with
// the same text in the batch column are one batch: one species, one day, one of
// everything that belongs to a batch. Dates are YYYY-MM-DD and nothing else, as
// 03/04 is a different day in different countries. The habits of spreadsheet
// programs are taken as they come: a byte order mark, semicolons or tabs in
// place of commas, a guard apostrophe, empty rows at the end.

// SheetBatch is a batch as a spreadsheet tells it.
type SheetBatch struct {
	Text   string // what stands in the batch column
	Line   int    // of its first row
	Fields BatchFields
	On     Date // inoculated
	Bags   []SheetBag
}

// SheetBag is one row.
type SheetBag struct {
	Line       int
	Number     int
	Place      string
	Conditions map[string]string
	Seen       []SheetDate // in the order in which they become entries
	What       string      // of contaminated_on
}

// SheetDate is a dated column that becomes an entry.
type SheetDate struct {
	Column string
	On     Date
}

// The dated columns, in the order in which those of one day become entries.
const (
	ColumnNotColonised = "not_colonised_on"
	ColumnColonised    = "colonised_on"
	ColumnClean        = "clean_on"
	ColumnContaminated = "contaminated_on"
	ColumnCulled       = "culled_on"
	ColumnFinished     = "finished_on"
)

var (
	seenColumns    = []string{ColumnNotColonised, ColumnColonised, ColumnClean, ColumnContaminated, ColumnCulled, ColumnFinished}
	batchColumns   = []string{"strain", "spawn_lot", "steriliser_run", "recipe", "operator"}
	neededColumns  = []string{"batch", "species", "inoculated_on"}
	plainColumns   = append(append(slices.Clone(neededColumns), append(slices.Clone(batchColumns), "bag", "place", "what")...), seenColumns...)
	conditionStart = "condition:"
	skippedStart   = "more:"
)

// SpreadsheetColumns are the columns that a spreadsheet may have beside
// condition:KEY, the needed ones first.
func SpreadsheetColumns() []string { return slices.Clone(plainColumns) }

// Spreadsheet is a whole file, read and found good.
type Spreadsheet struct {
	Batches []SheetBatch
	// New are conditions that the farm does not have yet.
	New []Condition
}

// Reading is what reading a spreadsheet needs to know of the farm.
type Reading struct {
	Species    []Species
	Conditions Conditions
	Today      Date
}

// ReadSpreadsheet reads a file. Every faulty row is named under its line number
// ("line 12"); the header is line 1. Either the whole file is good or nothing
// comes back.
func ReadSpreadsheet(data []byte, farm Reading) (Spreadsheet, error) {
	rows, header, err := readRows(data)
	if err != nil {
		return Spreadsheet{}, err
	}
	r := sheetReader{farm: farm, header: header, at: map[string]int{}, fresh: map[string][]string{}}
	if err := r.checkHeader(); err != nil {
		return Spreadsheet{}, err
	}
	for _, row := range rows {
		r.row(row)
	}
	r.finish()
	if err := r.problems.Err(fmt.Sprintf("nothing was taken in; rows that need mending: %d", len(r.problems))); err != nil {
		return Spreadsheet{}, err
	}
	return Spreadsheet{Batches: r.batches, New: r.newConditions()}, nil
}

// sheetRow is a record and the line on which it starts.
type sheetRow struct {
	line  int
	cells []string
}

func readRows(data []byte) (rows []sheetRow, header []string, err error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) {
		return nil, nil, Errorf(Invalid, "this file is not UTF-8 text; save it again as CSV UTF-8")
	}
	c := csv.NewReader(bytes.NewReader(data))
	c.Comma = delimiter(data)
	c.FieldsPerRecord = -1
	for {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, &Error{Kind: Invalid, Message: "this is not CSV as spreadsheets write it: " + err.Error(), Cause: err}
		}
		line, _ := c.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(UnguardCell(cells[i]))
		}
		if header == nil {
			header = cells
		} else if slices.ContainsFunc(cells, func(s string) bool { return s != "" }) {
			rows = append(rows, sheetRow{line, cells})
		}
	}
	if len(rows) == 0 {
		return nil, nil, Errorf(Invalid, "there is no row in this file: it needs a header line and then one line a bag")
	}
	return rows, header, nil
}

// delimiter is what the header line uses most of comma, semicolon and tab.
func delimiter(data []byte) rune {
	head, _, _ := bytes.Cut(data, []byte("\n"))
	best, most := ',', bytes.Count(head, []byte(","))
	for _, d := range []rune{';', '\t'} {
		if n := bytes.Count(head, []byte(string(d))); n > most {
			best, most = d, n
		}
	}
	return best
}
