package server

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/grow/plan"
	"bagmark/store"
)

// aheadAnswer is what to make, in sentences.
type aheadAnswer struct {
	Lead    string // the answer
	Under   string // what of it is promised already
	Sure    string
	Notes   []string // loads, room, what the figures rest on
	Links   []aheadLink
	Gives   []aheadGive
	Species string
}

// aheadLink leads on from the answer.
type aheadLink struct{ Path, Words string }

// aheadGive is what the bags to be made give in one week.
type aheadGive struct{ Week, Grams string }

func answerWords(u grow.Units, all *store.WeekAhead) *aheadAnswer {
	w, unit := all.Want, largeUnit(u)
	a := &aheadAnswer{Species: w.Name}
	week := weekWords(u, w.From, w.To)
	if w.Promised.High > 0 {
		a.Under = fmt.Sprintf("Bags alive promise %s %s of %s in that week, %s.", spread(u, w.Promised), unit, wanted(u, w.Grams), week)
	} else {
		a.Under = fmt.Sprintf("No bag alive is likely to give %s in that week, %s.", w.Name, week)
	}
	switch {
	case w.LikelyEnough:
		a.Lead = fmt.Sprintf("The bags alive are likely to give %s %s.", wanted(u, w.Grams), unit)
	case w.Late:
		a.late(u, all)
	case w.Likely == nil:
		a.Lead = fmt.Sprintf("No number of bags made now is likely to give %s %s in that week.", wanted(u, w.Grams), unit)
	default:
		a.Lead = fmt.Sprintf("Make %s.", makingWords(w.Likely))
		a.Under += fmt.Sprintf(" With these, likely %s %s.", spread(u, w.Likely.InWeek), unit)
		a.making(u, all, w.Likely)
	}
	switch {
	case w.SureEnough:
		a.Sure = "That holds in nine cases of ten."
	case w.Late && w.LikelyEnough:
		a.Sure = "It is too late to make more for that week."
	case w.Late:
	case w.Sure != nil:
		a.Sure = fmt.Sprintf("For nine chances in ten: %s.", makingWords(w.Sure))
		if w.Likely != nil && w.Sure.Bags >= 2*w.Likely.Bags {
			a.Sure += " So many, because a batch may come early or late, or give little."
		}
		if w.Likely == nil {
			a.making(u, all, w.Sure)
		}
	default:
		a.Sure = "No number of bags gives nine chances in ten: bags of one day ripen together, and the day is not known well enough."
	}
	a.Notes = append(a.Notes, basisWords(u, w))
	return a
}

// late says that the week is out of reach, and which is not.
func (a *aheadAnswer) late(u grow.Units, all *store.WeekAhead) {
	w := all.Want
	a.Lead = fmt.Sprintf("Too late to make %s for that week: the last day was %s.", w.Name, shortDay(w.Latest))
	if w.Reach == nil {
		return
	}
	when := "today"
	if w.Earliest > grow.DateOf(all.AsOf, all.AsOf.Location()) {
		when = "tomorrow"
	}
	a.Sure = fmt.Sprintf("Bags made %s come in time for the week of %s.", when, weekWords(u, w.Reach.From, w.Reach.To))
	v := url.Values{"species": {string(w.Species)}, "kg": {wanted(u, w.Grams)}, "week": {w.Reach.From.String()}}
	a.Links = append(a.Links, aheadLink{"/week-ahead?" + v.Encode(), "Ask for that week"})
}

// making says what one making takes and gives beside.
func (a *aheadAnswer) making(u grow.Units, all *store.WeekAhead, m *store.AheadMaking) {
	today := grow.DateOf(all.AsOf, all.AsOf.Location())
	w := all.Want
	when := ""
	if best := w.Best; best < m.Days[0] {
		when = fmt.Sprintf("The best day for that week, %s, has passed: later bags come partly after it. ", shortDay(best))
	}
	if w.Good.From < w.Good.To && len(m.Days) == 1 {
		when += fmt.Sprintf("Any day from %s to %s is nearly as good. ", shortDay(w.Good.From), shortDay(w.Good.To))
	}
	a.Notes = append(a.Notes, when+fmt.Sprintf("The last day worth making is %s: its bags give half as much in that week.", shortDay(w.Latest)))
	a.Notes = append(a.Notes, steamWords(all, m))
	a.Notes = append(a.Notes, fitWords("On the racks", m.Racks), fitWords("In fruiting", m.Tiers))
	for _, g := range m.Weeks {
		a.Gives = append(a.Gives, aheadGive{weekWords(u, g.From, g.To), narrow(u, g.Grams)})
	}
	v := url.Values{"species": {string(all.Want.Species)}, "bags": {strconv.Itoa(m.Each)}}
	switch {
	case m.Days[0] > today+1:
		a.Notes = append(a.Notes, fmt.Sprintf("A lab day is made on its day or the day before: ask here again on %s.", shortDay(m.Days[0]-1)))
	case m.Each <= grow.MostBags:
		a.Links = append(a.Links, aheadLink{"/lab-day?" + v.Encode(), "Make this lab day"})
	}
}

func shortDay(d grow.Date) string { return d.Time().Format("Mon 2 Jan") }

// makingWords are bags and days.
func makingWords(m *store.AheadMaking) string {
	if len(m.Days) == 1 {
		return fmt.Sprintf("%s on %s", plural(m.Bags, "bag", "bags"), shortDay(m.Days[0]))
	}
	var days []string
	for _, d := range m.Days {
		days = append(days, shortDay(d))
	}
	last := len(days) - 1
	return fmt.Sprintf("%s, %d on each of %s and %s", plural(m.Bags, "bag", "bags"), m.Each, strings.Join(days[:last], ", "), days[last])
}

// steamWords say how many loads that is.
func steamWords(all *store.WeekAhead, m *store.AheadMaking) string {
	left := ""
	if m.Sterile > 0 {
		left = fmt.Sprintf(" %s left.", plural(all.Sterile, "sterile bag is", "sterile bags are"))
		if all.Load.Bags != nil && *m.Loads > 0 {
			left = strings.TrimSuffix(left, ".") + "; that is taken off."
		}
	}
	switch {
	case all.Load.Bags == nil:
		return "How many steriliser loads that is, is not known: say below how many bags one load takes." + left
	case *m.Loads == 0:
		return "No steriliser load is needed:" + strings.TrimSuffix(left, ".") + "."
	}
	return fmt.Sprintf("%s of %d (%s), steamed the day before at the latest.", plural(*m.Loads, "steriliser load", "steriliser loads"), *all.Load.Bags, loadWords(all.Load)) + left
}

func loadWords(l store.AheadLoad) string {
	switch l.From {
	case store.LoadPlan:
		return "the load plan of " + store.RunName(l.Run)
	case store.LoadRuns:
		return "the most of your last runs, " + store.RunName(l.Run)
	case store.LoadSetting:
		return "your settings"
	}
	return "as you said"
}

// fitWords say whether there is room.
func fitWords(where string, f store.AheadFits) string {
	days := shortDay(f.From) + " to " + shortDay(f.To)
	switch {
	case f.Free == nil:
		return fmt.Sprintf("%s, %s: %s of those alive now will stand there. What the rooms take is not said.", where, days, plural(f.Stand, "bag", "bags"))
	case f.Short > 0:
		return fmt.Sprintf("%s, %s: room for %d beside the %d that will stand there: %d bags too many.", where, days, *f.Free, f.Stand, f.Short)
	}
	return fmt.Sprintf("%s, %s: room for %d beside the %d that will stand there.", where, days, *f.Free, f.Stand)
}

// basisWords say what the figures rest on.
func basisWords(u grow.Units, w *store.AheadAnswer) string {
	b := w.Basis
	g, lost, days := b.GramsBag, b.LostPct, strings.Replace(b.Growing, "published", "the published", 1)
	bag := fmt.Sprintf("%s a bag made (%s to %s from batch to batch); of 100 bags %.0f give nothing (%.0f to %.0f)", u.Mass(g.Likely), u.Mass(g.Low), u.Mass(g.High), lost.Likely, lost.Low, lost.High)
	if b.Crop > 0 {
		return fmt.Sprintf("From %s of yours: %s. Days to grown over by %s. Batches count alike here and the built-in figures a little, so this is not quite the mean that Yield gives.", plural(b.Crop, "done batch", "done batches"), bag, days)
	}
	return fmt.Sprintf("Fewer than %d batches of yours are done, so the crop is by built-in figures and its range wide: %s. Biological efficiency: %s; a bag holds %s dry. Days to grown over by %s.",
		plan.LeastBatches, bag, b.CropMark, u.Mass(b.DryG), days)
}
