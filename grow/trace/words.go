package trace

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Every sentence of the package about contamination stands in this file, those about times in wordstimes.go. Counts come before figures in 100; "points to" is as far as a
// sentence goes, and none says that something was caused, proved or safe.

// words is the row's sentence and what must be known beside it.
func (d *draft) words(f flock, margin float64) string {
	parts := []string{d.verdictWords(f, margin)}
	parts = append(parts, d.partnerWords()...)
	parts = append(parts, d.cautions(f)...)
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

func (d *draft) verdictWords(f flock, margin float64) string {
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
	return d.cannotWords(f, counts, margin)
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

// SinceWords is the row's sentence where its two sides are times: batches made since something was done, and before.
func (r Row) SinceWords() string {
	counts := fmt.Sprintf("of bags made since %d of %d went bad, of those made before %d of %d", r.With.Contaminated, r.With.Bags, r.Without.Contaminated, r.Without.Bags)
	waiting := ""
	if n := r.Detail.Young + r.Detail.Unseen; n > 0 {
		waiting = " " + plural(n, "bag") + " too young or not looked at lately."
	}
	switch {
	case r.With.Bags == 0:
		return "Nothing to compare yet: no bag made since can be counted." + waiting
	case r.Without.Bags == 0:
		return "Nothing to compare: no bag made in the weeks before can be counted." + waiting
	case r.Verdict == CannotTell && r.Difference != nil && r.Difference.Low != nil && r.Difference.High != nil:
		return fmt.Sprintf("Cannot tell yet: %s. Batches differ so much that the difference could be anything from %s in 100.%s", counts, span(*r.Difference.Low, *r.Difference.High), waiting)
	case r.Verdict == CannotTell:
		return "Cannot tell yet: " + counts + "." + waiting
	}
	return capital(counts) + ". " + r.Words
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

func (d *draft) cannotWords(f flock, counts string, margin float64) string {
	out := "Cannot tell yet: " + counts + "."
	if !math.IsNaN(d.difference.Low) {
		out += fmt.Sprintf(" The difference could be anything from %s in 100.", span(d.difference.Low, d.difference.High))
	}
	if d.row.Method == BatchPermutation {
		if s := d.fewBatches(f); s != "" {
			return out + " " + s
		}
	}
	if s := d.row.Detail.Need.words(margin, d.row.Detail.Sides); s != "" {
		out += " " + s
	}
	if s := d.againstRange(); s != "" {
		out += " " + s
	}
	return out
}

// againstRange explains a "cannot tell" where the range and the chance do not say the same.
func (d *draft) againstRange() string {
	if d.row.Q == nil || math.IsNaN(d.difference.Low) {
		return ""
	}
	rare := *d.row.Q <= significant
	switch {
	case d.leavesOutZero() && !rare && *d.row.P <= significant:
		return rangeAlone + "with so many things asked at once chance does as much too often; both must agree."
	case d.leavesOutZero() && !rare:
		return rangeAlone + "chance alone does as much too often; both must agree."
	case d.takesInZero() && rare && d.row.Method == BatchPermutation:
		return "Chance alone would seldom set them so far apart, but batches differ so much from one another that no difference at all still lies within the range; both must agree."
	case d.takesInZero() && rare:
		return "Chance alone would seldom set them so far apart, but no difference at all still lies within the range; both must agree."
	}
	return ""
}

// rangeAlone begins a sentence about a range without 0 that is not enough.
const rangeAlone = "The range alone would point to a difference, but "

// leavesOutZero tells whether no difference lies outside the range, as the range is written.
func (d *draft) leavesOutZero() bool {
	return math.Round(100*d.difference.Low) > 0 || math.Round(100*d.difference.High) < 0
}

func (d *draft) takesInZero() bool { return d.difference.Low <= 0 && d.difference.High >= 0 }

// fewBatches says that no result could have told anything.
func (d *draft) fewBatches(f flock) string {
	but := ""
	if d.leavesOutZero() {
		but = rangeAlone
	}
	said := ""
	switch kin := d.kin(); {
	case len(d.with) == 1:
		said = onlyBatch("had it", "with it", f.batchNames(d.tally.OutWith))
	case len(d.without) == 1:
		said = onlyBatch("was without it", "without it", f.batchNames(d.tally.OutWithout))
	case d.smallest <= significant:
		return ""
	case kin == 0:
		said = "No species had batches both with it and without, so there is nothing of its own kind to compare it with."
	case kin < d.row.Batches:
		said = fmt.Sprintf("Among the %d batches of its own species no result could tell.", kin)
	default:
		said = fmt.Sprintf("With %d batches no result could tell.", d.row.Batches)
	}
	if but != "" {
		return but + strings.ToLower(said[:1]) + said[1:]
	}
	return said
}

// onlyBatch says that one batch alone counts on a side, and which others stand on it but cannot be counted.
func onlyBatch(had, side string, out []string) string {
	const most = 3
	if len(out) == 0 {
		return "Only one batch " + had + "."
	}
	verb := "is"
	if len(out) > 1 {
		verb = "are"
	}
	if more := len(out) - most; more > 0 {
		out = append(slices.Clone(out[:most]), number(float64(more))+" more")
	}
	return fmt.Sprintf("Only one batch %s counts; %s %s too young to count.", side, list(out), verb)
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

// words says how many bags would tell, by the names of the two sides.
func (n Need) words(margin float64, sides [2]string) string {
	most, unit := 1e5, "bags"
	if n.InBatches {
		most, unit = 1000, "batches"
	}
	switch {
	case n.Each == 0:
		return ""
	case !(n.Each <= most):
		return fmt.Sprintf("No number of %s that a farm makes would tell so small a difference.", unit)
	case n.With == 0 && n.Without == 0:
		return "For a difference of this size there are bags enough; it has to hold beside the other conditions looked at."
	}
	tell, much := " would tell", ""
	if n.Margin {
		tell, much = fmt.Sprintf(" would show a difference under %s in 100", marginWords(margin)), ", which is a lot"
	}
	if n.InBatches { // how many of each kind, those there are among them, would be a second answer
		return fmt.Sprintf("About %s%s, at %s a batch%s.", n.missing(sides, " more batches "), tell, plural(int(math.Round(n.Size)), "bag"), much)
	}
	return fmt.Sprintf("About %s bags of each kind%s%s: %s.", roundUp(n.Each), tell, much, n.missing(sides, " more "))
}

// missing is how many more of each side are wanted; more stands behind the first number.
func (n Need) missing(sides [2]string, more string) string {
	switch {
	case n.With == 0:
		return roundUp(n.Without) + more + sides[1]
	case n.Without == 0:
		return roundUp(n.With) + more + sides[0]
	}
	return fmt.Sprintf("%s%s%s and %s %s", roundUp(n.With), more, sides[0], roundUp(n.Without), sides[1])
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
		return fmt.Sprintf("Bags %d-%d were also made one after another: the order at the bench could be the reason as well.", first, last)
	}
	return "In each batch these bags were also made one after another: the order at the bench could be the reason as well."
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

// name is a condition's value in words: "flow hood off", "spawn lot S-31", "steriliser run 33" for its "run 33".
func name(c Column, value string) string {
	label := c.label()
	last := label[strings.LastIndexByte(label, ' ')+1:]
	return label + " " + strings.TrimPrefix(value, last+" ")
}

func (c Column) label() string {
	if c.Label == "" {
		return strings.ReplaceAll(c.Key, "_", " ")
	}
	return c.Label
}

// sides name the bags on both sides of a value, as they follow a number of bags: "with flow hood off" and "with flow
// hood on", "by Joss" and "by Maren". Where there are more than two values the others have no name of their own.
func sides(c Column, value string, all []string) [2]string {
	other := c.Normal
	if rest := slices.DeleteFunc(slices.Clone(all), func(v string) bool { return v == value }); other == "" && len(rest) == 1 {
		other = rest[0]
	}
	if c.Key == keyOperator {
		return [2]string{"by " + value, "by " + cmp.Or(other, "others")}
	}
	if other == "" {
		return [2]string{"with " + name(c, value), "with another"}
	}
	return [2]string{"with " + name(c, value), "with " + name(c, other)}
}

// keyOperator is the one condition whose values are people.
const keyOperator = "operator"

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
