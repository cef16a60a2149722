package server

import (
	"net/url"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// unitsOf is how the farm writes; as most do if that cannot be read.
func (s *Server) unitsOf(c echo.Context) grow.Units {
	if farm, err := s.store.Farm(c.Request().Context()); err == nil {
		return farm.Writing
	}
	return grow.Units{}
}

// typedDegrees reads a temperature in the farm's unit as °C; nil if none was typed.
func typedDegrees(u grow.Units, v url.Values, name string, p *grow.Problems) *float64 {
	n := numberField(v, name, p)
	if n == nil {
		return nil
	}
	c := u.TempC(*n)
	return &c
}

// typedGrams reads a mass as grams, a bare number in the unit of the scale; nil if
// none was typed. What is kept already, and comes back untouched, stays what it is.
func typedGrams(u grow.Units, s grow.Scale, v url.Values, name string, p *grow.Problems, kept ...*float64) *float64 {
	text := typed(v, name)
	if text == "" {
		return nil
	}
	g, err := u.Grams(text, s, given(kept)...)
	if err != nil {
		p.Add(name, "%s", err)
		return nil
	}
	return &g
}

// given are the numbers that there are.
func given(list []*float64) (out []float64) {
	for _, n := range list {
		if n != nil {
			out = append(out, *n)
		}
	}
	return out
}
