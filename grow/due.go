package grow

import (
	"fmt"
	"time"
)

// Why says what a bag is due for.
type Why string

// What a bag may be due for, the more pressing first: a bag is due for the
// first that holds.
const (
	DueRemove    Why = "remove"
	DueAgain     Why = "again"
	DueWatch     Why = "watch"
	DueUnmarked  Why = "unmarked"
	DueOverdue   Why = "overdue"
	DueReady     Why = "ready"
	DueFirstLook Why = "first_look"
	DueCheck     Why = "check"
)

// Whys are all of them, in order.
var Whys = []Why{DueRemove, DueAgain, DueWatch, DueUnmarked, DueOverdue, DueReady, DueFirstLook, DueCheck}

// CheckEvery is the number of days after which a bag not seen is due for a
// look (common practice: every two to four days).
const CheckEvery = 4

// FirstLookDay is the usual day of the first hunt (common practice).
const FirstLookDay = 7

// Outlook is what decides whether a bag is due.
type Outlook struct {
	Status
	Today        Date
	Zone         *time.Location
	InoculatedOn Date
	FirstLookDay int
	LabelsLater  *Date // no nagging about unmarked bags before it
	OverdueSince *Date // later than its own species' standard allows
	ReadyFrom    *Date // the earliest day it may be ready
}

// Due gives what the bag is due for today and since when; false if nothing.
func (o Outlook) Due() (Why, Date, bool) {
	if o.State.Out() {
		return "", 0, false
	}
	running := o.State == Unmarked || o.State == Colonising // unmarked: its labels come later
	growing := running || o.State == Colonised
	switch {
	case o.Contaminated != nil && o.State != Isolated:
		return DueRemove, o.date(o.Contaminated.At), true
	case o.Again != nil && o.Again.On <= o.Today && !o.cameBack() && !o.wentThere():
		return DueAgain, o.Again.On, true
	case o.Watch != nil && (o.LastInHandAt == nil || o.date(*o.LastInHandAt) < o.Today):
		return DueWatch, max(o.after(o.LastInHandAt, 1), o.date(o.Watch.Since)), true
	case o.Nags():
		return DueUnmarked, o.unmarkedSince(), true
	case o.OnHold():
		return "", 0, false
	case running && o.OverdueSince != nil && *o.OverdueSince <= o.Today:
		return DueOverdue, *o.OverdueSince, true
	case growing && (o.PinsAt != nil || o.ReadyFrom != nil && *o.ReadyFrom <= o.Today):
		return DueReady, o.readySince(), true
	case growing && !o.InHandAfterMark && o.Today >= o.InoculatedOn+Date(o.FirstLookDay):
		return DueFirstLook, o.InoculatedOn + Date(o.FirstLookDay), true
	case o.after(o.LastSeenAt, CheckEvery) <= o.Today:
		return DueCheck, o.after(o.LastSeenAt, CheckEvery), true
	}
	return "", 0, false
}

// Nags tells whether the bag asks for a label: no one has scanned one on it,
// and the day until which that was put off has come.
func (o Outlook) Nags() bool {
	return o.State == Unmarked && (o.LabelsLater == nil || *o.LabelsLater <= o.Today)
}

// cameBack tells whether someone had the bag on the day set or later.
func (o Outlook) cameBack() bool {
	return o.LastInHandAt != nil && o.LastInHandAt.After(o.Again.At) && o.date(*o.LastInHandAt) >= o.Again.On
}

// OnHold tells whether somebody put the bag's way to fruiting off until a day
// that has not come: no room, or kept cold. Until then it asks for nothing by its
// age. Pins seen since are news, and end it.
func (o Outlook) OnHold() bool {
	a := o.Again
	return a != nil && a.For == "fruiting" && a.On > o.Today && !o.State.Out() && !o.wentThere() && (o.PinsAt == nil || !o.PinsAt.After(a.At))
}

// wentThere tells whether the bag was to come back for fruiting and is there.
func (o Outlook) wentThere() bool { return o.Again.For == "fruiting" && o.State == Fruiting }

func (o Outlook) date(t time.Time) Date { return DateOf(t, o.Zone) }

// after is so many days after a time, or after making if it never was.
func (o Outlook) after(t *time.Time, days Date) Date {
	if t == nil {
		return o.InoculatedOn + days
	}
	return o.date(*t) + days
}

func (o Outlook) unmarkedSince() Date {
	if o.LabelsLater != nil {
		return max(*o.LabelsLater, o.InoculatedOn)
	}
	return o.InoculatedOn
}

func (o Outlook) readySince() Date {
	switch {
	case o.PinsAt == nil:
		return *o.ReadyFrom
	case o.ReadyFrom == nil:
		return o.date(*o.PinsAt)
	}
	return min(*o.ReadyFrom, o.date(*o.PinsAt))
}

// Words is the sentence for a bag due, in a grower's words.
func (o Outlook) Words(why Why, since Date) string {
	day := int(o.Today - o.InoculatedOn)
	switch why {
	case DueRemove:
		return "Mouldy and still on the rack: take it out closed."
	case DueAgain:
		what := "look again"
		if o.Again.For == "fruiting" {
			what = "to fruiting"
		}
		words := "You said: " + what + " on " + since.Time().Format("Mon 2 Jan")
		if o.Again.Because != "" {
			words += " (" + o.Again.Because + ")"
		}
		return words + "."
	case DueWatch:
		return "On watch: turn it in the hand today."
	case DueUnmarked:
		return "No label scanned on it yet."
	case DueOverdue:
		return fmt.Sprintf("Day %d, late by its own species' standard: where is it bare?", day)
	case DueReady:
		return o.readyWords(since)
	case DueFirstLook:
		return fmt.Sprintf("Day %d: first hunt. Turn it: bare patches, corners, folds, seal, filter.", day)
	}
	if o.LastSeenAt == nil {
		return "Not seen yet."
	}
	return "Not seen for " + days(int(o.Today-o.date(*o.LastSeenAt))) + "."
}

func (o Outlook) readyWords(since Date) string {
	switch {
	case o.PinsAt != nil:
		return "Pins in the plastic: move it today."
	case o.State != Colonised:
		return "It may be grown over and ready: look."
	case since == o.Today:
		return "Ready from today: move it."
	}
	return "Ready for " + days(int(o.Today-since)) + ": move it."
}
