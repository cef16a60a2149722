package yield

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bagmark/grow/trace"
)

// Every sentence of the package stands in this file: what was weighed comes
// first, "points to" is as far as it goes.

func (d *draft) words(beside []trace.Column) string {
	parts := []string{d.verdictWords()}
	for _, key := range d.row.ConfoundedWith {
		parts = append(parts, fmt.Sprintf("It went with %s on the same bags: the records cannot tell them apart.", labelOf(key, beside)))
	}
	return strings.Join(parts, " ")
}

func (d *draft) verdictWords() string {
	unit := d.measure.Unit()
	against := fmt.Sprintf("%s %s against %s", number(d.seen[0]), unit, number(d.seen[1]))
	switch d.row.Verdict {
	case trace.PointsTo:
		more := "more"
		if d.difference.High < 0 {
			more = "less"
		}
		return fmt.Sprintf("Points to %s: %s with it, %s %s (difference %s, 95 %% range %s). A record, not a proof.",
			d.name(), more, against, d.where(), signed(d.difference.Estimate), span(d.difference.Low, d.difference.High))
	case trace.SmallDifference:
		return fmt.Sprintf("A difference, but inside what does not matter (%s %s, a tenth). %s.", number(d.margin), unit, capital(against))
	case trace.NoDifference:
		return fmt.Sprintf("No difference that matters: %s; any difference is under %s %s.", against, number(d.margin), unit)
	case trace.NothingToCompare:
		return d.nothingWords()
	}
	return d.cannotWords(against)
}

func (d *draft) name() string {
	label := d.column.Label
	if label == "" {
		label = strings.ReplaceAll(d.column.Key, "_", " ")
	}
	return label + " " + strings.ReplaceAll(d.row.Value, "_", " ")
}

func labelOf(key string, columns []trace.Column) string {
	for _, c := range columns {
		if c.Key == key && c.Label != "" {
			return c.Label
		}
	}
	return strings.ReplaceAll(key, "_", " ")
}

// where says among what the masses are compared.
func (d *draft) where() string {
	switch {
	case d.row.Method == WholeBatches:
		return fmt.Sprintf("over %d batches", d.row.Batches)
	case d.row.Batches == 1:
		return "in the same batch"
	}
	return fmt.Sprintf("in the same %d batches", d.row.Batches)
}

func (d *draft) nothingWords() string {
	switch {
	case d.row.With.Bags == 0 && d.row.Without.Bags == 0:
		return "Nothing to compare yet: no batch is done."
	case d.row.With.Bags == 0:
		return "Nothing to compare yet: no batch with it is done."
	case d.row.Without.Bags == 0:
		return "Nothing to compare: every bag that counts had it."
	}
	return "Nothing to compare: no species had batches with it and without."
}

func (d *draft) cannotWords(against string) string {
	out := "Cannot tell yet: " + against + "."
	if !math.IsNaN(d.difference.Low) {
		out += fmt.Sprintf(" The difference could be anything from %s.", span(d.difference.Low, d.difference.High))
	}
	switch {
	case d.row.Method == WholeBatches && d.used[0] == 1:
		return out + " Only one batch had it."
	case d.row.Method == WholeBatches && d.used[1] == 1:
		return out + " Only one batch was without it."
	case d.smallest > significant:
		return out + " So few could not tell, whatever they gave."
	}
	if n := d.each(); n > 0 {
		kind := "bags"
		if d.row.Method == WholeBatches {
			kind = "batches"
		}
		out += fmt.Sprintf(" About %s %s of each kind would show a difference of %s.", roundUp(n), kind, number(d.margin))
	}
	return out
}

// each is how many of each kind show a difference as large as the margin with
// 80 % power, by the normal law (the textbook's n = 2(z+z')²s²/δ²; Lehr 1992,
// Stat Med 11:1099-1102, rounds it to 16 s²/δ²). 0 where nothing can be said.
func (d *draft) each() float64 {
	n := d.need / (d.margin * d.margin)
	if !(n > 0) || math.IsInf(n, 0) || n > 1e5 {
		return 0
	}
	return n
}

// roundUp is to two significant digits, as nobody makes 137.2 bags.
func roundUp(n float64) string {
	step := math.Pow10(max(0, int(math.Floor(math.Log10(n)))-1))
	return strconv.FormatFloat(math.Ceil(n/step)*step, 'f', 0, 64)
}

// number has no more digits than a kitchen scale is good for.
func number(x float64) string {
	if math.Abs(x) >= 100 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64)
}

func signed(x float64) string { return strings.Replace(plus(x), "-", "−", 1) }

func plus(x float64) string {
	if x > 0 {
		return "+" + number(x)
	}
	return number(x)
}

func span(low, high float64) string { return signed(low) + " to " + signed(high) }

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
