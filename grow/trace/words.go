package trace

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Every sentence of the package stands in this file. Counts come before figures in 100; "points to" is as far as a
// sentence goes, and none says that something was caused, proved or safe.

// words is the row's sentence and what must be known beside it.
func (d *draft) words(f flock, margin float64) string {
	parts := []string{d.verdictWords(margin)}
	parts = append(parts, d.partnerWords()...)
	parts = append(parts, d.cautions(f)...)
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

func (d *draft) verdictWords(margin float64) string {
	counts := d.countWords()
	switch d.row.Verdict {
	case PointsTo:
		less := ""
		if d.difference.High < 0 {
			less = "less contamination with it, "
		}
		return fmt.Sprintf("Points to %s: %s%s %s (difference %s in 100, 95 %% range %s). A record, not a proof.",
			d.row.Detail.Name, less, counts, d.where(), signed(d.difference.Estimate), span(d.difference.Low, d.difference.High))
	case SmallDifference:
		return fmt.Sprintf("A difference, but inside what you said does not matter (%s in 100). %s.", marginWords(margin), capital(counts))
	case NoDifference:
		return fmt.Sprintf("No difference that matters: %s; any difference is under %s in 100.", counts, marginWords(margin))
	case NothingToCompare:
		return d.nothingWords()
	}
	return d.cannotWords(counts, margin)
}

func (d *draft) countWords() string {
	return fmt.Sprintf("%s against %s", d.seen[0].words(), d.seen[1].words())
}

func (c Counts) words() string { return number(c.Bad) + " of " + number(c.Bags) }

// where says among which batches the counts are compared.
func (d *draft) where() string {
	switch {
	case d.row.Method == BatchPermutation:
		return fmt.Sprintf("over %d batches", d.row.Batches)
	case d.row.Batches == 1:
		return "in the same batch"
	}
	return fmt.Sprintf("in the same %d batches", d.row.Batches)
}

func (d *draft) nothingWords() string {
	switch {
	case d.row.With.Bags == 0 && d.row.Without.Bags == 0:
		return "Nothing to compare yet: no bag can be counted."
	case d.row.With.Bags == 0:
		return "Nothing to compare yet: no bag with it can be counted."
	case d.row.NotCounted > 0:
		return "Nothing to compare yet: every bag that can be counted had it."
	}
	return "Nothing to compare: every bag had it."
}

func (d *draft) cannotWords(counts string, margin float64) string {
	out := "Cannot tell yet: " + counts + "."
	if !math.IsNaN(d.difference.Low) {
		out += fmt.Sprintf(" The difference could be anything from %s in 100.", span(d.difference.Low, d.difference.High))
	}
	if d.row.Method == BatchPermutation {
		if s := d.fewBatches(); s != "" {
			return out + " " + s
		}
	}
	if s := d.row.Detail.Need.words(margin); s != "" {
		out += " " + s
	}
	return out
}

// fewBatches says that no result could have told anything.
func (d *draft) fewBatches() string {
	switch kin := d.kin(); {
	case len(d.with) == 1:
		return "Only one batch had it."
	case len(d.without) == 1:
		return "Only one batch was without it."
	case d.smallest <= significant:
		return ""
	case kin == 0:
		return "No species had batches both with it and without, so there is nothing of its own kind to compare it with."
	case kin < d.row.Batches:
		return fmt.Sprintf("Among the %d batches of its own species no result could tell.", kin)
	}
	return fmt.Sprintf("With %d batches no result could tell.", d.row.Batches)
}

// kin is how many batches are of a species that has batches on both sides: only those are exchanged.
func (d *draft) kin() (n int) {
	sides := make(map[string][2]int)
	for _, cell := range d.tally.Cells {
		v := sides[cell.Species]
		v[order(cell.With.Bags > 0)]++
		sides[cell.Species] = v
	}
	for _, v := range sides {
		if v[0] > 0 && v[1] > 0 {
			n += v[0] + v[1]
		}
	}
	return n
}

// words says how many bags would tell.
func (n Need) words(margin float64) string {
	most, unit, of := 1e5, "bags", ""
	if n.InBatches {
		most, unit, of = 1000, "batches", fmt.Sprintf(" (%s a batch)", plural(int(math.Round(n.Size)), "bag"))
	}
	switch {
	case n.Each == 0:
		return ""
	case !(n.Each <= most):
		return fmt.Sprintf("No number of %s that a farm makes would tell so small a difference.", unit)
	case n.With == 0 && n.Without == 0:
		return "For a difference of this size there are bags enough; it has to hold beside the other conditions looked at."
	}
	out := fmt.Sprintf("About %s %s of each kind%s would tell", roundUp(n.Each), unit, of)
	if n.Margin {
		out = fmt.Sprintf("About %s %s of each kind%s would show a difference under %s in 100, which is a lot", roundUp(n.Each), unit, of, marginWords(margin))
	}
	return out + n.missing() + "."
}

func (n Need) missing() string {
	switch {
	case n.With == 0:
		return fmt.Sprintf(" (%s more without it)", roundUp(n.Without))
	case n.Without == 0:
		return fmt.Sprintf(" (%s more with it)", roundUp(n.With))
	}
	return fmt.Sprintf(" (%s more with it, %s more without)", roundUp(n.With), roundUp(n.Without))
}

// partnerWords names what cannot be told apart from the row.
func (d *draft) partnerWords() []string {
	var out []string
	for _, p := range d.partners {
		name, other := capital(d.row.Detail.Name), p.draft.row.Detail.Name
		switch {
		case !p.opposite:
			out = append(out, fmt.Sprintf("%s and %s were on the same %s. The records cannot tell them apart.", name, other, plural(p.bags, "bag")))
		case !d.sharesKey(p.draft):
			out = append(out, fmt.Sprintf("%s was on exactly the bags that %s was not on. The records cannot tell them apart.", name, other))
		}
	}
	for _, u := range d.unions {
		var names []string
		for _, p := range u {
			names = append(names, p.row.Detail.Name)
		}
		out = append(out, fmt.Sprintf("%s was on exactly the bags of %s together. The records cannot tell them apart.", capital(d.row.Detail.Name), list(names)))
	}
	for _, n := range d.row.Detail.Hardly {
		out = append(out, fmt.Sprintf("Hardly told apart from %s: they differ on few bags.", n))
	}
	return out
}

// sharesKey tells whether another value of the partner's condition was on the row's own bags, which says it all.
func (d *draft) sharesKey(other *draft) bool {
	return slices.ContainsFunc(d.partners, func(p partner) bool { return !p.opposite && p.draft.column.Key == other.column.Key })
}

// cautions say which bags were left out, and what else the bags had in common.
func (d *draft) cautions(f flock) []string {
	t := d.row.Detail
	var out []string
	if s := d.madeTogether(f); s != "" {
		out = append(out, s)
	}
	if d.row.Verdict == CannotTell || d.row.Verdict == NothingToCompare {
		out = append(out, findWords(f, d.tally.Find))
	}
	if t.Young+t.Unseen > 0 {
		out = append(out, plural(t.Young+t.Unseen, "bag")+" not counted yet.")
	}
	if t.Left > 0 {
		out = append(out, plural(t.Left, "bag")+" left early"+d.row.Early.words()+".")
	}
	if t.Unknown > 0 {
		out = append(out, plural(t.Unknown, "bag")+": not recorded.")
	}
	if t.Late > 0 {
		out = append(out, plural(t.Late, "bag")+": changed after the find, so the earlier value counts.")
	}
	if t.Sampled && d.p > 0.04 && d.p < 0.06 {
		out = append(out, "Near the line: the figure is from random arrangements.")
	}
	return out
}

// words say what the shares would be had nobody left early.
func (e *Early) words() string {
	if e == nil {
		return ""
	}
	side := func(b *Bounds) string {
		return fmt.Sprintf("about %s in 100 (95 %% range %s to %s)", whole(*b.Estimate), whole(*b.Low), whole(*b.High))
	}
	return fmt.Sprintf(", more than one in twenty: allowing for them, %s with it and %s without are found bad by their day", side(e.With), side(e.Without))
}

// madeTogether warns where the bags with the condition stood next to each other in the batch, as then the place in
// the row is another thing that they share.
func (d *draft) madeTogether(f flock) string {
	if !d.marks.inside {
		return ""
	}
	first, last, runs := 0, 0, 0
	for _, cell := range d.tally.Cells {
		var ns []int
		for _, i := range f.batches[cell.Batch] {
			if d.marks.side[i] == with {
				ns = append(ns, f.bags[i].Number)
			}
		}
		if len(ns) == 0 {
			continue
		}
		slices.Sort(ns)
		if len(ns) < 2 || ns[len(ns)-1]-ns[0] != len(ns)-1 {
			return ""
		}
		first, last = ns[0], ns[len(ns)-1]
		runs++
	}
	switch runs {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("Bags %d-%d were also made one after another.", first, last)
	}
	return "In each batch these bags were also made one after another."
}

// findWords asks for bags that would answer if they were seen.
func findWords(f flock, find []int) string {
	const most = 6
	if len(find) == 0 || len(find) > most {
		return ""
	}
	var ns []string
	one := true
	for _, i := range find {
		one = one && f.bags[i].Batch == f.bags[find[0]].Batch
		ns = append(ns, strconv.Itoa(f.bags[i].Number))
	}
	if one {
		return "Find no. " + list(ns) + " to answer this."
	}
	for k, i := range find {
		ns[k] = "no. " + ns[k] + " of " + f.bags[i].Batch
	}
	return "Find " + list(ns) + " to answer this."
}

// RateWords is a rate with its range, "3 of 24 contaminated (95 % range 4 to 31 in 100)"; empty of no bags.
func RateWords(g Group) string {
	if g.Bags == 0 || g.Low == nil || g.High == nil {
		return ""
	}
	return fmt.Sprintf("%s of %s contaminated (95 %% range %s to %s in 100)", number(float64(g.Contaminated)), number(float64(g.Bags)), whole(*g.Low), whole(*g.High))
}

// name is a condition's value in words: "flow hood off", "spawn lot S-31".
func name(c Column, value string) string {
	label := c.Label
	if label == "" {
		label = strings.ReplaceAll(c.Key, "_", " ")
	}
	return label + " " + value
}

// words say how many more of the bags that share something may turn; bad is how many of them have.
func (t Turn) words(bad int) string {
	alive := plural(t.Alive, "bag") + " alive share it"
	if t.Alive == 1 {
		alive = "1 bag alive shares it"
	}
	switch mean := int(math.Round(t.Mean)); {
	case bad == 0:
		return fmt.Sprintf("%s. None so far; up to %d may turn (8 in 10).", alive, t.High)
	case t.High == 0:
		return fmt.Sprintf("%s; most likely none more will turn (8 in 10).", alive)
	case mean == 0:
		return fmt.Sprintf("%s; perhaps none more will turn, perhaps up to %d (8 in 10).", alive, t.High)
	default:
		return fmt.Sprintf("%s; about %d more may turn (%d to %d, 8 in 10).", alive, mean, t.Low, t.High)
	}
}

// eventWords are the events as they follow "were" in a sentence.
var eventWords = map[Event]string{
	EventColonised: "grown over", EventContaminated: "found contaminated", EventStarted: "seen to have started",
}

func (t Times) words(by Column, e exchanged) string {
	var parts []string
	for _, g := range t.Groups {
		parts = append(parts, name(by, g.Value)+": "+g.words(eventWords[t.Event]))
	}
	said, told := strings.Join(parts, "; "), ""
	if !e.batches && e.units < t.known() {
		told = fmt.Sprintf(" What counts is the %s of batches that had both.", plural(e.units, "bag"))
	}
	switch t.Verdict {
	case PointsTo:
		return "Points to a difference in time. " + capital(said) + "." + told + " A record, not a proof."
	case CannotTell:
		return "Cannot tell yet. " + capital(said) + "." + told + t.moreWords(e)
	}
	if said == "" {
		return "Nothing to compare: no bag has a recorded value."
	}
	return "Nothing to compare: every bag had the same. " + capital(said) + "."
}

// known is how many bags have a recorded value.
func (t Times) known() (n int) {
	for _, g := range t.Groups {
		n += g.Bags
	}
	return n
}

// moreWords say how many more bags would tell two times apart.
func (t Times) moreWords(e exchanged) string {
	const mostTimes = 20 // times the bags there are; beyond it the guess is worth nothing
	events := 0
	for _, g := range t.Groups {
		events += g.Events
	}
	units := [2]string{"bag", "bags"}
	if e.batches {
		units = [2]string{"batch", "batches"}
	}
	switch more := e.missing(); {
	case events == 0:
		return " It has happened to no bag yet."
	case e.alike:
		return " All were seen so at the same look: only looking more often would tell them apart."
	case e.smallest > significant:
		return fmt.Sprintf(" With %s no result could tell.", plurals(e.units, units[0], units[1]))
	case len(t.Groups) != 2:
		return ""
	case more > mostTimes*float64(e.units):
		return fmt.Sprintf(" The times look so alike that no number of %s would soon tell them apart.", units[1])
	default:
		return fmt.Sprintf(" About %s more %s watched in the same way would tell, if the times stay so far apart.", roundUp(more), units[1])
	}
}

// words says by when half of the bags had the event.
func (g TimeGroup) words(event string) string {
	n := plural(g.Bags, "bag")
	if g.MedianHigh == nil || g.MedianLow == nil {
		return fmt.Sprintf("%d of %s %s so far", g.Events, n, event)
	}
	if *g.MedianLow == *g.MedianHigh {
		return fmt.Sprintf("half of %s %s by day %s", n, event, number(*g.MedianHigh))
	}
	return fmt.Sprintf("half of %s %s between day %s and %s", n, event, number(*g.MedianLow), number(*g.MedianHigh))
}

// Words says by when half of the bags had the event: "Half of 12 bags grown over between day 14 and 18."
func (g TimeGroup) Words(event Event) string {
	if g.Bags == 0 {
		return ""
	}
	return capital(g.words(eventWords[event])) + "."
}

// UsualWords is the chart's sentence while there is no alarm.
func (c Chart) UsualWords() string {
	return fmt.Sprintf("Usual here: %s in 100. No change that stands out.", whole(c.Centre))
}

// Words is the chart's sentence: empty without an alarm. It never gives a reason.
func (c Chart) Words() string {
	i, ok := c.LastAlarm()
	if !ok {
		return ""
	}
	first, last, over := c.Since(i), i, c.over(i)
	if !over {
		last = len(c.Points) - 1
	}
	var now Counts
	for _, p := range c.Points[first : last+1] {
		now = now.plus(p.Counts)
	}
	more := "More"
	if c.Points[i].Alarm == BetterAlarm {
		more = "Less"
	}
	counts := fmt.Sprintf("(%s, %s in 100 against %s)", now.words(), whole(now.Rate()), whole(c.Centre))
	switch {
	case !over:
		return fmt.Sprintf("%s contamination than usual since the week of %s %s.", more, c.Points[first].starts(), counts)
	case first == last:
		return fmt.Sprintf("%s contamination than usual in the week of %s %s. As usual since.", more, c.Points[first].starts(), counts)
	}
	return fmt.Sprintf("%s contamination than usual from the week of %s to that of %s %s. As usual since.", more, c.Points[first].starts(), c.Points[last].starts(), counts)
}

func (p ChartPoint) starts() string { return fmt.Sprintf("%d %s", p.Start.Day(), p.Start.Month()) }

// aliasWords say what a joint look could not hold apart.
func (j *joint) aliasWords(a Aliases) string {
	out := ""
	for _, k := range a.Constant {
		out += fmt.Sprintf("%s was the same on all these bags and is left out. ", capital(j.names[k]))
	}
	for _, g := range a.Identical {
		var names []string
		for _, k := range g {
			names = append(names, j.names[k])
		}
		out += fmt.Sprintf("%s cannot be told apart here and are taken as one. ", capital(list(names)))
	}
	for _, s := range a.Sums {
		var names []string
		for _, k := range s.Of {
			names = append(names, j.names[k])
		}
		out += fmt.Sprintf("%s cannot be told apart from %s together and is left out. ", capital(j.names[s.Column]), list(names))
	}
	return out
}

// words are a joint look's: counts first, then how many times the odds.
func (t Together) words() string {
	out := fmt.Sprintf("Over %s of one species in %s, each held against the others:", plural(t.Bags, "bag"), plurals(t.Batches, "batch", "batches"))
	for i, c := range t.Conditions {
		end := ";"
		if i == len(t.Conditions)-1 {
			end = "."
		}
		out += fmt.Sprintf(" %s, %d of %d bad, %s%s", c.name, c.Bad, c.Bags, oddsWords(c.OddsRatio), end)
	}
	return out + " A second look, not a verdict."
}

func oddsWords(b *Bounds) string {
	if b.Estimate == nil || b.Low == nil {
		return "odds not to be told"
	}
	high := "more than 1,000"
	if b.High != nil && *b.High < 1000 {
		high = times(*b.High)
	}
	return fmt.Sprintf("%s times the odds (95 %% range %s to %s)", times(*b.Estimate), times(*b.Low), high)
}
