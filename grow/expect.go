package grow

import "fmt"

// Answer is one of the things that a person can tap on a bag's page. Its tile
// keeps its place; what is expected today only makes it larger.
type Answer string

// The answers. NoAnswer: nothing is expected of this bag.
const (
	NoAnswer     Answer = ""
	Clean        Answer = "clean"
	GrownOver    Answer = "grown_over"
	ReadyNow     Answer = "ready"
	MouldOrWrong Answer = "mould_or_wrong"
	Started      Answer = "started"
	ToFruiting   Answer = "to_fruiting"
	StillBare    Answer = "still_bare"
)

// The words that the lowest tile, the one for a bag with nothing wrong, bears.
const (
	wordClean    = "Clean"
	wordTurned   = "Turned, clean"
	wordTooEarly = "Seen, too early"
	wordNoWorse  = "Seen, no worse"
	wordNoChange = "Seen, no change"
)

// ExpectInput is what [Expect] needs to know of a bag. Days are whole days since
// inoculation; an unknown day is 0.
type ExpectInput struct {
	Species          Species // the strain's own figures where there are any
	Day              int     // today
	State            State
	ColonisedDaysAgo *int // nil while nobody has called it grown over
	GrownOverDue     int  // day on which it is likely to be grown over
	ReadyDue         int  // first day on which it is likely to be ready
	Late, Slow       bool // by the forecast, never by another species
	FirstHuntDay     int  // 0 is day 7
	Started          bool // growth has been seen
	Turned           bool // turned in the hand at least once
	Pins             bool
	Contaminated     bool
	Unshaken         bool
}

// Expectation is what a grower would say of the bag before looking at it: at
// most two sentences, and which answers are likely.
type Expectation struct {
	Lines     []string `json:"lines"`
	Largest   Answer   `json:"largest"`
	Second    Answer   `json:"second"`
	CleanWord string   `json:"clean_word"`
}

// DefaultHuntDay is the day of the first hunt for mould: by then something has
// grown, and what is still bare shows moulds (common practice).
const DefaultHuntDay = 7

// Expect says what to expect of a bag today, by the standards of its own
// species and age. The words and days are common practice.
func Expect(in ExpectInput) Expectation {
	if in.FirstHuntDay <= 0 {
		in.FirstHuntDay = DefaultHuntDay
	}
	switch {
	case in.State == Culled:
		return expectation(NoAnswer, NoAnswer, wordClean, "Out, closed. Nothing more to do.")
	case in.State == Finished:
		return expectation(NoAnswer, NoAnswer, wordClean, "Finished. Nothing more to do.")
	case in.Contaminated:
		return in.mouldy()
	case in.State == Unmarked:
		return expectation(NoAnswer, NoAnswer, wordClean, "Is this label on it? Then tap below.")
	case in.State == Isolated:
		return expectation(Clean, MouldOrWrong, wordNoChange, "Set apart. Look through the film and keep it closed.")
	case in.State == Fruiting:
		return in.fruiting()
	case in.Pins:
		return in.pinned()
	case in.State == Colonised || in.ColonisedDaysAgo != nil:
		return in.grownOver()
	}
	return in.growing()
}

// Age is a bag's age as it is always shown, never a bare number:
// "Day 4 · made Sat 14 Mar".
func Age(day int, made Date) string {
	layout := "Mon 2 Jan"
	if day >= 300 {
		layout = "Mon 2 Jan 2006" // the day and month alone would soon be taken for this year's
	}
	when := made.Time().Format(layout)
	if day < 0 {
		return "Not made yet · " + when
	}
	return fmt.Sprintf("Day %d · made %s", day, when)
}

func expectation(largest, second Answer, cleanWord string, lines ...string) Expectation {
	kept := make([]string, 0, 2)
	for _, l := range lines {
		if l != "" && len(kept) < 2 {
			kept = append(kept, l)
		}
	}
	return Expectation{Lines: kept, Largest: largest, Second: second, CleanWord: cleanWord}
}

func (in ExpectInput) mouldy() Expectation {
	switch in.State {
	case Isolated:
		return expectation(MouldOrWrong, Clean, wordNoWorse, "Keep it closed, apart from clean bags. Do not shake, press or smell it.",
			"Out today if it is green, orange, black or powdery.")
	case Fruiting:
		return expectation(MouldOrWrong, Clean, wordNoWorse, "Open it no further. Do not shake, press or smell it.",
			"Out of the fruiting room today, in a second closed bag.")
	}
	return expectation(MouldOrWrong, Clean, wordNoWorse, "Keep it closed. Do not shake, press or smell it.",
		"Take it out today, or set it apart.")
}

func (in ExpectInput) fruiting() Expectation {
	if in.Pins {
		return expectation(Clean, MouldOrWrong, wordClean, "In fruiting, pins seen. Pick young, before it drops spores.")
	}
	line := "In fruiting. Look for pins, and for mould where it was opened."
	if days := in.Species.Fruiting.Pinning.Days; days.High > 0 {
		line = fmt.Sprintf("In fruiting. Pins usually within %.0f days.", days.High)
	}
	return expectation(Clean, MouldOrWrong, wordClean, line, "Look for mould where it was opened.")
}

func (in ExpectInput) pinned() Expectation {
	line := "Pins in the bag already. Move it today."
	if in.Species.Ready == ReadyPins && in.ColonisedDaysAgo == nil {
		line = in.pinWord() + " mean go, white or not. Move it today."
	}
	return expectation(ToFruiting, ReadyNow, wordClean, line)
}

func (in ExpectInput) pinWord() string {
	if in.Species.PinWord == "" {
		return "Pins"
	}
	return in.Species.PinWord
}
