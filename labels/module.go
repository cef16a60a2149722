package labels

import (
	"fmt"
	"math"
)

// Dots per inch when a job does not say: an office laser printer, a label printer.
const (
	laserDPI = 600
	rollDPI  = 203
)

// Bounds of a module: at least 4 dots of the printer, and never under 0.4 mm,
// whatever the printer can do (common practice: 0.5 mm on paper for phones, a
// little less for a long address on the smallest stock).
const (
	minDots     = 4
	minModuleMM = 0.4
)

// moduleSizes are the modules wanted on labels of at least this size, largest
// first, chosen to leave room for the words (common practice).
var moduleSizes = []struct{ labelW, labelH, module float64 }{
	{100, 150, 2.0},
	{95, 48, 1.25},
	{70, 48, 1.0},
	{95, 36, 0.875},
	{60, 45, 0.875},
	{50, 30, 0.75},
	{45, 25, 0.625},
	{0, 0, 0.5},
}

// wantedModule is the module size for a label, before dots and limits.
func wantedModule(labelW, labelH float64) float64 {
	for _, size := range moduleSizes {
		if labelW >= size.labelW && labelH >= size.labelH {
			return size.module
		}
	}
	return minModuleMM
}

// module gives the size of a module in millimetres for a symbol of `side` modules,
// quiet zone counted: a whole number of dots, the nearest to what the label wants
// that fits the w × h of its content, with one dot to spare for putting the symbol
// on the dot grid.
func module(side int, labelW, labelH, w, h, dot float64) (float64, error) {
	dots := math.Round(wantedModule(labelW, labelH) / dot)
	dots = min(dots, math.Floor((min(w, h)-dot)/float64(side)/dot+1e-9))
	if dots < minDots || dots*dot < minModuleMM {
		return 0, &Error{Message: fmt.Sprintf(
			"a symbol of %d modules is too fine for a label of %s × %s mm; shorten the farm's public address or take larger labels",
			side, tenth(labelW), tenth(labelH))}
	}
	return dots * dot, nil
}
