package climate

import (
	"fmt"

	"bagmark/grow"
)

// FitWords says what a farm's own batches tell of the temperature at which they
// grow fastest, beside the figure that is built in, and whether it is used.
func FitWords(f StrainFit, builtIn grow.Cardinal, u grow.Units) string {
	_, opt, _ := f.Curve.Cardinal()
	who := fmt.Sprintf("Your %d batches with cores between %s and %s", f.Batches, u.Temp(f.FromC), u.TempWords(f.ToC))
	given := fmt.Sprintf("built in %s (%s)", u.Temp(builtIn.OptC), builtIn.Mark)
	if !f.Usable() {
		return fmt.Sprintf("%s do not tell yet where they grow fastest: %s is used.", who, given)
	}
	return fmt.Sprintf("%s grow fastest at %s, 80 %% range %s to %s; %s.", who, u.TempWords(opt), u.Temp(f.OptLowC), u.Temp(f.OptHighC), given)
}
