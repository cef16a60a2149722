package trace

import (
	"math"
	"strconv"
	"strings"
)

// How numbers are written in sentences.

// marginWords is a margin in bags in 100, with a decimal only where it has one.
func marginWords(margin float64) string {
	return strconv.FormatFloat(math.Round(1000*margin)/10, 'f', -1, 64)
}

// whole is a share as whole bags in 100 without a sign.
func whole(x float64) string { return strconv.Itoa(int(math.Round(math.Abs(100 * x)))) }

func signed(x float64) string {
	if math.Round(100*x) < 0 {
		return whole(x) + " fewer"
	}
	return whole(x)
}

// span is a range of differences in bags in 100: "28 to 92", "4 fewer to 19 more", "28 to 92 fewer".
func span(low, high float64) string {
	l, h := math.Round(100*low), math.Round(100*high)
	switch {
	case l >= 0:
		return whole(low) + " to " + whole(high)
	case h <= 0:
		return whole(high) + " to " + whole(low) + " fewer"
	}
	return whole(low) + " fewer to " + whole(high) + " more"
}

// number writes a count with a comma at each thousand.
func number(x float64) string {
	s := strconv.Itoa(int(math.Round(x)))
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// roundUp writes a need: exact to 99, then up to the next ten, hundred, and so on.
func roundUp(x float64) string {
	step := 1.0
	for x/step >= 100 {
		step *= 10
	}
	return number(math.Ceil(x/step) * step)
}

func plural(n int, what string) string { return plurals(n, what, what+"s") }

func plurals(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return number(float64(n)) + " " + many
}

// times writes a ratio with the two digits that can be meant.
func times(x float64) string {
	switch {
	case x >= 99.5:
		return number(x)
	case x >= 9.95:
		return strconv.Itoa(int(math.Round(x)))
	case x >= 0.995:
		return strconv.FormatFloat(x, 'f', 1, 64)
	case x >= 0.01:
		return strconv.FormatFloat(x, 'f', 2, 64)
	}
	return "0.01 or less"
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// list joins with commas and an "and".
func list(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}
