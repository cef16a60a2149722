package grow

import "fmt"

// ripe is how far a bag is on its way from grown over to ready, in whole days.
type ripe struct {
	since int // days since it was grown over
	of    int // days that this usually takes
	high  int // days after which it has taken long
	ready int // days since it could first be ready, negative before
}

func (in ExpectInput) ripe() ripe {
	span := in.Species.RipeningDays
	r := ripe{of: roundUp(span.Middle()), high: roundUp(span.High)}
	if in.ColonisedDaysAgo != nil {
		r.since = *in.ColonisedDaysAgo
	}
	r.ready = r.since - roundUp(span.Low)
	if in.ReadyDue > 0 {
		r.ready = in.Day - in.ReadyDue
	}
	return r
}

// grownOver is for a bag that is grown over and has no pins yet.
func (in ExpectInput) grownOver() Expectation {
	r := in.ripe()
	switch in.Species.Ready {
	case ReadyPins:
		return in.awaitingPins(r)
	case ReadyDays, ReadyBrowning:
		return in.ripening(r)
	}
	if r.ready < 0 {
		return expectation(Clean, ToFruiting, wordClean, "Grown over. Ready in "+days(-r.ready)+".")
	}
	return moveToday(r.ready)
}

// moveToday is for a bag that has been ready for so many days.
func moveToday(ready int) Expectation {
	if ready == 0 {
		return expectation(ToFruiting, Clean, wordClean, "Ready. Move today.")
	}
	return expectation(ToFruiting, Clean, wordClean, "Ready for "+days(ready)+". Move today.")
}

func (in ExpectInput) awaitingPins(r ripe) Expectation {
	switch {
	case r.ready < 0:
		return expectation(Clean, ReadyNow, wordClean, r.words(), in.Species.ReadyQuestion)
	case r.since <= r.high:
		return expectation(ReadyNow, Clean, wordClean, "Grown over. "+in.pinWord()+" are due.", in.Species.ReadyQuestion)
	}
	return expectation(ToFruiting, ReadyNow, wordClean, "Grown over for "+days(r.since)+", no pins seen. Fresh air brings them: move it.", in.Species.ReadyQuestion)
}

func (in ExpectInput) ripening(r ripe) Expectation {
	switch {
	case r.ready < 0:
		return expectation(Clean, MouldOrWrong, wordClean, r.words(), in.Species.EyeNote)
	case r.since < r.of:
		return expectation(ReadyNow, Clean, wordClean, r.words(), in.Species.ReadyQuestion)
	case in.Species.Ready == ReadyBrowning:
		return expectation(ReadyNow, ToFruiting, wordClean, "Should be ripe about now.", in.Species.ReadyQuestion)
	}
	return moveToday(r.since - r.of)
}

// words never say plain "grown over": a bag that only looks finished is not.
func (r ripe) words() string {
	if r.since == 0 {
		return "Grown over. Ripening takes about " + days(r.of) + "."
	}
	return fmt.Sprintf("Ripening, day %d of about %d.", r.since, r.of)
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}
