package climate

import (
	"fmt"
	"math"
	"time"

	"bagmark/grow"
)

// A Probed is one place of a load and what its readings say.
type Probed struct {
	Name string // of the probe, or of the position in the load
	Core bool   // in the core of a bag; else in the chamber
	Soaked
}

// A RunVerdict says whether a load had what was asked of it, judged by the core of
// the coldest bag that was measured.
type RunVerdict struct {
	Coldest int      // among the places; -1 without a core
	F0      *float64 // of it, in minutes at 121.1 °C
	Short   *bool    // nil where the readings do not tell
	Words   []string // in °C

	core  *Probed // the coldest
	plain int     // words that have no temperature, at the beginning
}

// JudgeRun judges a run of steam by its readings. target is an F0, 0 for none. The
// chamber alone tells nothing of the load: it is hot long before the core is.
func JudgeRun(target float64, places []Probed) RunVerdict {
	v := RunVerdict{Coldest: -1}
	for i, p := range places {
		if p.timed() && (v.Coldest < 0 || p.F0 < places[v.Coldest].F0) {
			v.Coldest = i
		}
	}
	switch {
	case v.Coldest >= 0:
	case coresOf(places) > 0:
		v.Words = []string{"One reading of a core lasts no time: whether the load had enough is not known. Two at least are needed, and one an hour."}
		return v
	default:
		v.Words = []string{"No reading from the core of a bag: whether the load had enough is not known."}
		if len(places) > 0 {
			v.Words = append(v.Words, "Only the chamber was measured. It is hot long before the core is, so its figures flatter the load: put a probe into the middle of the bag that heats last.")
		}
		return v
	}
	p := places[v.Coldest]
	f0 := p.F0
	v.F0 = &f0
	v.Words = []string{fmt.Sprintf("F0 %s minutes in the core at %s, the coldest of %s measured.", oneDecimal(f0), p.Name, count(coresOf(places), "core"))}
	v.judge(target, p, places)
	v.core, v.plain = &p, len(v.Words)
	v.Words = v.WordsIn(grow.Units{})
	return v
}

// WordsIn are the words with temperatures as u writes them.
func (v RunVerdict) WordsIn(u grow.Units) []string {
	if v.core == nil {
		return v.Words
	}
	return append(v.Words[:v.plain:v.plain], v.core.holdWords(u)...)
}

func (v *RunVerdict) judge(target float64, p Probed, places []Probed) {
	short := p.F0 < target
	sure := shortForSure(target, places)
	switch {
	case target <= 0:
		v.Words = append(v.Words, "No target was set.")
		return
	case short && sure >= 0 && sure != v.Coldest:
		v.Words = append(v.Words, fmt.Sprintf("The core at %s was read to the end and is short of the target of %s by %s.", places[sure].Name, oneDecimal(target), oneDecimal(target-places[sure].F0Bridged)))
	case short && p.F0Bridged >= target:
		v.Words = append(v.Words, fmt.Sprintf("Whether that is short of the target of %s cannot be told: %s without readings are not counted, with straight lines across them it would be %s.",
			oneDecimal(target), lengthWords(gapLength(p.Gaps)), oneDecimal(p.F0Bridged)))
		return
	case short && p.endsHot():
		v.Words = append(v.Words, fmt.Sprintf("Whether the target of %s was reached cannot be told: the readings end while it was hot.", oneDecimal(target)))
		return
	case short:
		v.Words = append(v.Words, fmt.Sprintf("Short of the target of %s by %s.", oneDecimal(target), oneDecimal(target-p.F0)))
	default:
		v.Words = append(v.Words, fmt.Sprintf("The target of %s was reached.", oneDecimal(target)))
	}
	v.Short = &short
}

// hotWithinC is how far under its hold a core that was last read may lie and still
// be hot: what it had after its last reading is then not known. Common practice.
const hotWithinC = 5

// endsHot tells whether the readings stop before the core had begun to cool.
func (p Probed) endsHot() bool { return p.Last >= p.HoldC-hotWithinC }

// shortForSure finds a core of which nothing that was not read could make up what it
// lacks, the coldest first; -1 where there is none.
func shortForSure(target float64, places []Probed) int {
	found := -1
	for i, p := range places {
		if p.timed() && p.F0Bridged < target && !p.endsHot() && (found < 0 || p.F0 < places[found].F0) {
			found = i
		}
	}
	return found
}

func (p Probed) holdWords(u grow.Units) []string {
	degrees := func(c float64) string { return oneDecimal(u.Degrees(c)) }
	out := []string{fmt.Sprintf("%s %s was never reached; the highest reading is %s.", degrees(p.HoldC), u.DegreeSign(), degrees(p.Highest))}
	if p.Reached != nil {
		out[0] = fmt.Sprintf("%s %s was reached after %s and held for %s.", degrees(p.HoldC), u.DegreeSign(), lengthWords(p.ComeUp), lengthWords(p.Held))
		if p.Unbroken < p.Held {
			out[0] += fmt.Sprintf(" The longest stretch of it was %s; in between it fell to %s.", lengthWords(p.Unbroken), degrees(p.LowestHeld))
		}
	}
	if n := len(p.Gaps); n > 0 {
		out = append(out, fmt.Sprintf("%s without readings, in %s: not counted.", lengthWords(gapLength(p.Gaps)), count(n, "gap")))
	}
	return out
}

func coresOf(places []Probed) (n int) {
	for _, p := range places {
		if p.Core {
			n++
		}
	}
	return n
}

// timed tells whether a core was read over some time.
func (p Probed) timed() bool { return p.Core && p.To.After(p.From) }

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

func gapLength(gaps []Gap) (sum time.Duration) {
	for _, g := range gaps {
		sum += g.Length()
	}
	return sum
}

func lengthWords(d time.Duration) string {
	m := int(math.Round(d.Minutes()))
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

func oneDecimal(v float64) string {
	if r := math.Round(10*v) / 10; r == math.Trunc(r) {
		return fmt.Sprintf("%.0f", r)
	}
	return fmt.Sprintf("%.1f", v)
}
