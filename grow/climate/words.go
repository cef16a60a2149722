package climate

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bagmark/grow"
)

// Every sentence of the package stands in this file. None says that a room did
// something; it says how things stand.

// trimmed is a number with at most one decimal.
func trimmed(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

// SuitWords says which set-point suits whom: "22.0 suits all six.", or the best
// there is and who is out of band at it.
func SuitWords(s SetPoints, guests []Guest, u grow.Units) string {
	n := counted(guests)
	switch {
	case n == 0:
		return "Nothing stands here that grows over."
	case !s.Possible:
		return "No temperature suits them together: at each, some core would pass its ceiling. They need two rooms."
	case s.InBand.Cost < alike && n == 1:
		return fmt.Sprintf("%s suits %s.", u.Temp(s.InBand.C), guests[0].Name)
	case s.InBand.Cost < alike:
		return fmt.Sprintf("%s suits all %s.%s", u.Temp(s.InBand.C), numberWord(n), roomWords(guests, u))
	}
	return fmt.Sprintf("No temperature is in every band. %s is nearest: %s.", u.Temp(s.InBand.C), OutWords(At(guests, s.InBand.C), u))
}

// roomWords says how far air may swing with all in band; nothing where it may hardly.
func roomWords(guests []Guest, u grow.Units) string {
	low, high := math.Inf(-1), math.Inf(1)
	for _, g := range guests {
		if g.Weight > 0 {
			low, high = max(low, g.Band.LowC), min(high, g.Band.HighC)
		}
	}
	if high-low < 0.5 {
		return ""
	}
	return fmt.Sprintf(" So does anything from %s to %s; %s leaves most room for swings.", u.Temp(low), u.Temp(high), u.Temp((low+high)/2))
}

// OutWords names who is out of band and by how much: "enoki is 2 over".
func OutWords(list []Standing, u grow.Units) string {
	var parts []string
	for _, s := range list {
		if s.Guest.Weight <= 0 || math.Abs(s.OffC) < alike && !s.Past {
			continue
		}
		part := fmt.Sprintf("%s is %s %s", s.Guest.Name, u.TempDifference(math.Abs(s.OffC)), map[bool]string{true: "over", false: "under"}[s.OffC > 0])
		if s.Past {
			part += " and its core past its ceiling"
		}
		parts = append(parts, part)
	}
	if len(parts) == 0 {
		return "all are in band"
	}
	return listed(parts)
}

// TwoRoomsWords says what a second room would change, honestly where it is little.
func TwoRoomsWords(s Splits, guests []Guest, u grow.Units) string {
	if !s.InBand.Possible || !s.FewestDays.Possible {
		return ""
	}
	b, faster := s.InBand, 100*(1-s.FewestDays.Two/s.FewestDays.One)
	where := fmt.Sprintf("%s at %s and %s at %s", names(guests, b.Cool), u.Temp(b.CoolC), names(guests, b.Warm), u.Temp(b.WarmC))
	speed := fmt.Sprintf("Growth would gain %s %% at the most over the best single room", trimmed(faster))
	switch {
	case math.IsInf(b.One, 1):
		return "A second room is needed: " + where + ". " + speed + "."
	case b.One < alike:
		return "A second room changes little: one suits all. " + speed + ". What it would do is keep an outbreak apart."
	case b.Two < alike:
		return "A second room would bring all into band: " + where + ". " + speed + "; it pays by bands, quality and by keeping an outbreak apart."
	}
	return fmt.Sprintf("A second room would bring the mean out of band from %s to %s degrees: %s. %s.", u.TempDifference(b.One), u.TempDifference(b.Two), where, speed)
}

// CurveWords sets the growth curves beside the bands.
func CurveWords(s SetPoints, guests []Guest, u grow.Units) string {
	if !s.Possible {
		return ""
	}
	var here, weight float64
	for _, g := range guests {
		here, weight = here+g.Weight/g.Growth.Rate(s.InBand.C+g.OffsetC), weight+g.Weight
	}
	longer := 100 * (here/weight/s.FewestDays.Cost - 1)
	return fmt.Sprintf("By growth curves alone %s would be fastest over all bags, and %s would hold none back more than it must; at %s growth takes %s %% longer than at the fastest. The curves are flat near their top and know nothing of core heat, quality and moulds, so the bands come first.",
		u.Temp(s.FewestDays.C), u.Temp(s.Fairest.C), u.Temp(s.InBand.C), trimmed(longer))
}

func counted(guests []Guest) (n int) {
	for _, g := range guests {
		if g.Weight > 0 {
			n++
		}
	}
	return n
}

func names(guests []Guest, picked []int) string {
	var parts []string
	for _, i := range picked {
		parts = append(parts, guests[i].Name)
	}
	return listed(parts)
}

func listed(parts []string) string {
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return strings.Join(parts, "")
}

func numberWord(n int) string {
	words := []string{"", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}

// WorthWords says what it is worth to go from one air temperature to the set-point
// that suits: who would come into band, and what growth would change.
func WorthWords(s SetPoints, guests []Guest, nowC float64, u grow.Units) string {
	if !s.Possible || math.Abs(s.InBand.C-nowC) < 0.25 {
		return ""
	}
	var now, then float64
	var helped, harmed []string
	for _, g := range guests {
		if g.Weight <= 0 {
			continue
		}
		now += g.Weight / g.Growth.Rate(nowC+g.OffsetC)
		then += g.Weight / g.Growth.Rate(s.InBand.C+g.OffsetC)
		out, stays := math.Abs(g.Band.Off(nowC)) > alike, math.Abs(g.Band.Off(s.InBand.C)) > alike
		switch bags := fmt.Sprintf("%s (%s)", g.Name, counting(g.Weight)); {
		case out && !stays:
			helped = append(helped, bags)
		case stays && !out:
			harmed = append(harmed, bags)
		}
	}
	if len(helped) == 0 {
		return ""
	}
	but := ""
	if len(harmed) > 0 {
		but = ", but take " + listed(harmed) + " out of it"
	}
	return fmt.Sprintf("Setting it to %s would bring %s into band%s; %s", u.Temp(s.InBand.C), listed(helped), but, paceWords(now, then))
}

// paceWords says what becomes of growth, from relative days now and then.
func paceWords(now, then float64) string {
	switch change := 100 * (then/now - 1); {
	case math.IsInf(now, 1):
		return "now some of them do not grow at all."
	case math.Abs(change) < 0.5:
		return "nothing would be lost in growth."
	case change > 0:
		return fmt.Sprintf("by the curves all together would take about %s %% longer than now.", trimmed(change))
	default:
		return fmt.Sprintf("by the curves all together would be about %s %% quicker than now.", trimmed(-change))
	}
}

// counting is a number of bags.
func counting(bags float64) string {
	if bags == 1 {
		return "1 bag"
	}
	return trimmed(bags) + " bags"
}
