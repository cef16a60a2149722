package grow

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// The avoirdupois pound and its sixteenth (NIST Special Publication 811, 2008,
// appendix B.8; the pound as agreed in 1959). A tenth of an ounce is 2.8 g, so
// grams kept to a hundredth give back what was typed to a hundredth of an ounce or
// a hundredth of a pound.
const (
	GramsPerPound = 453.59237
	GramsPerOunce = 28.349523125
	keptGrams     = 100 // a gram is kept in hundredths; no scale of a farm shows less
)

// Scale is the unit that a mass field takes a bare number in.
type Scale int

// What is weighed on a small scale, and what is weighed in buckets. A metric
// farm types grams on both.
const (
	Kitchen Scale = iota // g or oz
	Bucket               // g or lb
)

// Unit is what stands behind a bare number on that scale.
func (u Units) Unit(s Scale) string {
	switch {
	case u.Weight != ImperialWeight:
		return "g"
	case s == Bucket:
		return "lb"
	}
	return "oz"
}

// Mass writes a sum or a mean of masses: whole grams and tenths of a kilogram from
// ten on; tenths of an ounce, pounds and ounces, and tenths of a pound from ten on.
func (u Units) Mass(g float64) string {
	if u.Weight != ImperialWeight {
		if g < 10_000 {
			return fixed(g, 0) + " g"
		}
		return fixed(g/1000, 1) + " kg"
	}
	if math.Abs(g) >= 10*GramsPerPound {
		return fixed(g/GramsPerPound, 1) + " lb"
	}
	return poundsAndOunces(g, 1)
}

// Weighed writes what a scale showed, as exactly as it was typed.
func (u Units) Weighed(g float64) string {
	if u.Weight != ImperialWeight {
		return trimmedTo(g, 4) + " g"
	}
	return poundsAndOunces(g, 2)
}

// Bulk writes a mass that is to be weighed out: grams below a kilogram, hundredths
// of a kilogram above; ounces below a pound, hundredths of a pound above.
func (u Units) Bulk(g float64) string {
	large, per := "kg", 1000.0
	if u.Weight == ImperialWeight {
		large, per = "lb", GramsPerPound
	}
	if math.Abs(g) >= per {
		return fixed(g/per, 2) + " " + large
	}
	return u.Small(g) + " " + u.Unit(Kitchen)
}

// Small writes a mass as a number of grams or of tenths of an ounce, for tables
// whose head says which.
func (u Units) Small(g float64) string {
	if u.Weight == ImperialWeight {
		return fixed(g/GramsPerOunce, 1)
	}
	return fixed(g, 0)
}

// poundsAndOunces writes ounces below a pound, "2 lb 3 oz" above.
func poundsAndOunces(g float64, decimals int) string {
	steps := math.Pow10(decimals)
	n := math.Round(math.Abs(g) / GramsPerOunce * steps)
	pounds := math.Floor(n / (16 * steps))
	ounces := trimmedTo((n-pounds*16*steps)/steps, decimals)
	sign := ""
	if g < 0 && n > 0 {
		sign = "-"
	}
	switch {
	case pounds == 0:
		return sign + ounces + " oz"
	case ounces == "0":
		return sign + fixed(pounds, 0) + " lb"
	}
	return sign + fixed(pounds, 0) + " lb " + ounces + " oz"
}

// MassTyped is a mass as it is typed on that scale: a bare number, or pounds and
// ounces where hundredths of a pound would not be exact.
func (u Units) MassTyped(g float64, s Scale) string {
	switch {
	case u.Weight != ImperialWeight:
		return strconv.FormatFloat(g, 'f', -1, 64)
	case s == Kitchen:
		return trimmedTo(g/GramsPerOunce, 2)
	}
	pounds := math.Round(g/GramsPerPound*100) / 100
	if math.Abs(pounds*GramsPerPound-g) <= 1.0/keptGrams {
		return trimmedTo(pounds, 2)
	}
	return poundsAndOunces(g, 2)
}

// Grams is the mass that was typed: a bare number in the unit of the scale, or with
// its own units, such as "2 lb 3.1 oz", "80 oz", "1.2 kg" or "500 g". Where it is
// what one of the kept masses is written as, it is that one. The error is written
// to stand beside a field.
func (u Units) Grams(typed string, s Scale, kept ...float64) (float64, error) {
	typed = strings.Join(strings.Fields(strings.ToLower(strings.Replace(typed, ",", ".", 1))), " ")
	for _, g := range kept {
		if typed == u.MassTyped(g, s) {
			return g, nil
		}
	}
	parts := massParts(typed)
	if len(parts) == 1 && parts[0].unit == "" {
		parts[0].unit = u.Unit(s)
	}
	if len(parts) == 2 && parts[1].unit == "" {
		parts[1].unit = "oz"
	}
	g, ok := gramsOf(parts)
	switch {
	case !ok && u.Weight != ImperialWeight:
		return 0, Errorf(Invalid, "must be a number")
	case !ok:
		return 0, Errorf(Invalid, "must be a weight like 35.2 oz, 2 lb 3 oz or 500 g")
	case slices.ContainsFunc(parts, massPart.tooFine):
		return 0, Errorf(Invalid, "may have at most two decimals")
	}
	return g, nil
}

// massPart is one number of a typed mass and the unit behind it.
type massPart struct{ number, unit string }

// massParts cuts "2 lb 3.1oz" into its numbers with their units.
func massParts(text string) (out []massPart) {
	for text = strings.TrimSpace(text); text != ""; text = strings.TrimSpace(text) {
		var part massPart
		part.number, text = leading(text, func(r rune) bool { return strings.ContainsRune("+-.0123456789", r) })
		part.unit, text = leading(strings.TrimSpace(text), func(r rune) bool { return r >= 'a' && r <= 'z' })
		if part == (massPart{}) {
			return nil
		}
		out = append(out, part)
	}
	return out
}

// leading cuts off what the text begins with of such runes.
func leading(text string, of func(rune) bool) (head, rest string) {
	n := strings.IndexFunc(text, func(r rune) bool { return !of(r) })
	if n < 0 {
		n = len(text)
	}
	return text[:n], text[n:]
}

var gramsPerUnit = map[string]float64{"g": 1, "kg": 1000, "oz": GramsPerOunce, "lb": GramsPerPound, "lbs": GramsPerPound}

// metric tells whether the part needs no conversion that must be rounded.
func (x massPart) metric() bool { return x.unit == "g" || x.unit == "kg" }

// tooFine tells whether a part has more decimals than are kept of ounces and pounds.
func (x massPart) tooFine() bool {
	_, decimals, _ := strings.Cut(x.number, ".")
	return !x.metric() && len(decimals) > 2
}

// gramsOf is the sum of one part, or of pounds and ounces.
func gramsOf(parts []massPart) (sum float64, ok bool) {
	if len(parts) == 0 || len(parts) > 2 || len(parts) == 2 && (!strings.HasPrefix(parts[0].unit, "lb") || parts[1].unit != "oz") {
		return 0, false
	}
	for i, part := range parts {
		n, err := strconv.ParseFloat(part.number, 64)
		per, known := gramsPerUnit[part.unit]
		if err != nil || !known || math.Abs(n) > 1e12 || len(parts) == 2 && (n < 0 || i == 1 && n >= 16) {
			return 0, false
		}
		sum += n * per
	}
	if !parts[0].metric() {
		sum = math.Round(sum*keptGrams) / keptGrams
	}
	return sum, true
}
