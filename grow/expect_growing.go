package grow

import (
	"fmt"
	"math"
	"strings"
)

// run is a spawn run in whole days: from is the first day on which grown over is
// no surprise, due the likely one, near the day from which the run is nearly
// over, end the last usual one.
type run struct{ from, due, near, end int }

func (in ExpectInput) run() run {
	d := in.Species.SpawnRun.Days
	due := in.GrownOverDue
	if due <= 0 {
		due = roundUp(d.Typical)
	}
	end := max(roundUp(d.High), due)
	return run{from: due - int(d.Typical-d.Low), due: due, near: due + (end-due)/2, end: end}
}

func roundUp(days float64) int { return int(math.Ceil(days)) }

// growing is for a bag that nobody has called grown over yet.
func (in ExpectInput) growing() Expectation {
	r := in.run()
	switch {
	case in.Late || in.Day > r.end:
		return in.late(r)
	case in.Day < in.Species.FirstSignDay && !in.Started:
		return in.early()
	case in.Slow:
		return in.slower(r)
	case in.Day > r.near && in.Species.Pace == Thin:
		return in.nearlyOver()
	case in.Day >= r.from:
		return in.due(r)
	case in.Day < in.FirstHuntDay:
		return in.starting()
	case !in.Turned:
		return expectation(Clean, MouldOrWrong, wordTurned, "First hunt. Turn it: bare patches, corners, folds, seal, filter.", in.remark())
	}
	return expectation(Clean, MouldOrWrong, wordTurned, fmt.Sprintf("Nothing due. Grown over about day %d.", r.due), in.remark())
}

// remark is the second line about how to judge this bag by eye.
func (in ExpectInput) remark() string {
	if in.Unshaken {
		return "Not shaken: top first. Don't judge it by the top."
	}
	return in.Species.EyeNote
}

// huntRemark is the same once the day of the first hunt has gone by.
func (in ExpectInput) huntRemark(otherwise string) string {
	switch {
	case in.Unshaken:
		return in.remark()
	case !in.Turned && in.Day >= in.FirstHuntDay:
		return "Turn it and look at every side: not done yet."
	}
	return otherwise
}

func (in ExpectInput) early() Expectation {
	first := in.Species.FirstSignDay
	switch in.Species.Pace {
	case Thin:
		return expectation(Clean, Started, wordTooEarly, fmt.Sprintf("Often nothing to see before day %d. Leave it.", first))
	case Slow:
		return expectation(Clean, Started, wordTooEarly, "Nothing to see yet.", fmt.Sprintf("First white about day %d.", first))
	}
	return expectation(Clean, Started, wordTooEarly, "Too early to see much. Leave it.")
}

func (in ExpectInput) starting() Expectation {
	if in.Started {
		return expectation(Clean, MouldOrWrong, wordClean, fmt.Sprintf("Growing. First hunt on day %d.", in.FirstHuntDay), in.remark())
	}
	word := wordClean
	if in.Day <= in.Species.FirstSignDay+1 {
		word = wordTooEarly
	}
	return expectation(Started, Clean, word, "White fuzz on the grains?", in.remark())
}

func (in ExpectInput) slower(r run) Expectation {
	line := "Slower than its own kind so far. Where is it bare?"
	if in.Day < r.from {
		return expectation(Clean, StillBare, wordTurned, line, in.huntRemark(in.Species.EyeNote))
	}
	return expectation(StillBare, GrownOver, wordTurned, line, in.huntRemark(in.Species.EyeNote))
}

func (in ExpectInput) due(r run) Expectation {
	switch {
	case in.Species.Pace == Thin:
		usual := fmt.Sprintf("Grown over about day %d.", r.due)
		if in.Day > r.due {
			usual = fmt.Sprintf("Usually grown over by day %d.", r.end)
		}
		line := strings.TrimSpace("Thin is normal. " + in.Species.ReadyQuestion)
		return expectation(GrownOver, Clean, wordTurned, line, in.huntRemark(usual))
	case in.Day < (r.from+r.due)/2:
		line := fmt.Sprintf("May be grown over; about day %d is usual.", r.due)
		return expectation(Clean, GrownOver, wordTurned, line, in.huntRemark(in.Species.EyeNote))
	}
	return expectation(GrownOver, Clean, wordTurned, "Should be grown over about now.", in.huntRemark(in.Species.EyeNote))
}

func (in ExpectInput) nearlyOver() Expectation {
	if in.Species.Ready == ReadyPins {
		line := "Near the end of its run. " + in.pinWord() + " mean go, white or not."
		return expectation(ToFruiting, StillBare, wordTurned, line, in.huntRemark(""))
	}
	return expectation(GrownOver, StillBare, wordTurned, "Near the end of its run. Where is it still bare?", in.huntRemark(in.Species.EyeNote))
}

// late is for a bag that the forecast calls overdue, or that is past the last
// usual day of its own species.
func (in ExpectInput) late(r run) Expectation {
	line := "Late. Where is it bare?"
	switch {
	case !in.Late:
		line = fmt.Sprintf("Past its usual day %d. Where is it bare?", r.end)
	case in.Day <= roundUp(in.Species.SpawnRun.Days.High):
		line = "Late for your own bags. Where is it bare?"
	}
	second := in.huntRemark("")
	switch {
	case in.Unshaken:
		second = "Not shaken: the bottom may take a week or two more."
	case second == "" && in.Species.Ready == ReadyPins:
		second = in.Species.ReadyQuestion
	}
	return expectation(StillBare, GrownOver, wordTurned, line, second)
}
