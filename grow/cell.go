package grow

import (
	"regexp"
	"strconv"
	"strings"
)

// plainNumber is how a number is written that may start with + or - without a
// spreadsheet taking it for a formula.
var plainNumber = regexp.MustCompile(`^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?$`)

// formula tells whether a cell, after any apostrophes, starts like a formula.
func formula(cell string) bool {
	bare := strings.TrimLeft(cell, "'")
	return bare != "" && strings.IndexByte("=+-@\t\r", bare[0]) >= 0
}

// GuardCell puts an apostrophe before a cell that a spreadsheet would take for
// a formula (common practice against CSV injection). [UnguardCell] takes it off
// again, whatever the cell was.
func GuardCell(cell string) string {
	if formula(cell) && !isNumber(cell) {
		return "'" + cell
	}
	return cell
}

// isNumber tells whether a spreadsheet takes a cell for a number: written like
// one, and small enough for an IEEE 754 double.
func isNumber(cell string) bool {
	if !plainNumber.MatchString(cell) {
		return false
	}
	_, err := strconv.ParseFloat(cell, 64)
	return err == nil
}

// UnguardCell takes off the apostrophe that [GuardCell] put on.
func UnguardCell(cell string) string {
	if strings.HasPrefix(cell, "'") && formula(cell) {
		return cell[1:]
	}
	return cell
}
