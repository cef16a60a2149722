package static

import (
	"math"
	"strconv"
	"testing"
)

// contrast is the ratio of WCAG 2.2 between two colours like #fbf9f4.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	if len(colour) != 7 {
		t.Fatalf("%q is no colour", colour)
	}
	var sum float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}
