package grow

import (
	"regexp"
	"strconv"
	"strings"
)

// proseFigure is a figure with its unit inside a sentence: "30 °C", "2 to 3 kg".
var proseFigure = regexp.MustCompile(`(-?\d+(?:\.\d+)?)(?:( to | and )(-?\d+(?:\.\d+)?))? (°C|kg|grams|g)\b`)

// Prose is a sentence of this program's own with its figures as the farm writes, such
// as a caution or a refusal. Whole figures stay whole: they were round to begin with.
func (u Units) Prose(text string) string {
	if u.Temperature == Fahrenheit {
		text = strings.ReplaceAll(text, ": is it in Fahrenheit?", "")
	}
	if u.Weight == ImperialWeight {
		text = strings.ReplaceAll(text, "of kilograms", "of pounds")
	}
	return proseFigure.ReplaceAllStringFunc(text, func(found string) string {
		m := proseFigure.FindStringSubmatch(found)
		convert, unit := u.proseUnit(m[4])
		if unit == "" {
			return found
		}
		out := convert(m[1])
		if m[2] != "" {
			out += m[2] + convert(m[3])
		}
		return out + " " + unit
	})
}

// proseUnit is the farm's unit for one of a sentence and how a figure is written in it;
// "" where the sentence has the farm's own.
func (u Units) proseUnit(unit string) (func(string) string, string) {
	switch {
	case unit == "°C" && u.Temperature == Fahrenheit:
		return func(figure string) string {
			c, _ := strconv.ParseFloat(figure, 64)
			if strings.Contains(figure, ".") {
				return trimmedTo(u.Degrees(c), 1)
			}
			return fixed(u.Degrees(c), 0)
		}, "°F"
	case unit != "°C" && u.Weight == ImperialWeight:
		per := 1 / GramsPerPound
		if unit == "kg" {
			per *= 1000
		}
		return func(figure string) string {
			n, _ := strconv.ParseFloat(figure, 64)
			return trimmedTo(n*per, 1)
		}, "lb"
	}
	return nil, ""
}
