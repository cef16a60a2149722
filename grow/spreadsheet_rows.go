package grow

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// sheetReader gathers batches and problems row by row.
type sheetReader struct {
	farm     Reading
	header   []string
	batches  []SheetBatch
	at       map[string]int      // batches by their text
	fresh    map[string][]string // values of conditions that the farm does not have
	problems Problems
}

func (r *sheetReader) checkHeader() error {
	var p Problems
	var unknown []string
	for i, name := range r.header {
		key, isCondition := strings.CutPrefix(name, conditionStart)
		switch {
		case slices.Contains(r.header[:i], name) && name != "":
			p.Add("line 1", "the column %s stands twice", name)
		case isCondition && !conditionKey.MatchString(key):
			p.Add("line 1", "%s: the name of a condition is lower-case letters, digits and _", name)
		case isCondition && slices.Contains(reservedKeys, key):
			p.Add("line 1", "%s is a field of the batch already", key)
		case isCondition, strings.HasPrefix(name, skippedStart), slices.Contains(plainColumns, name):
		default:
			unknown = append(unknown, strconv.Quote(name))
		}
	}
	if len(unknown) > 0 {
		p.Add("line 1", "columns that are not known: %s; the columns are %s and condition:KEY", strings.Join(unknown, ", "), strings.Join(plainColumns, ", "))
	}
	for _, name := range neededColumns {
		if !slices.Contains(r.header, name) {
			p.Add("line 1", "the column %s is missing", name)
		}
	}
	return p.Err("nothing was taken in: the header line needs mending")
}

// row reads one row; its problems are joined under its line.
func (r *sheetReader) row(row sheetRow) {
	cells := map[string]string{}
	var wrong []string
	note := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	for i, cell := range row.cells {
		if i < len(r.header) {
			cells[r.header[i]] = cell
		} else if cell != "" {
			note("has more cells than the header line")
		}
	}
	for _, name := range neededColumns {
		if cells[name] == "" {
			note("%s is missing", name)
		}
	}
	on, err := sheetDate(cells["inoculated_on"])
	if cells["inoculated_on"] != "" && err != nil {
		note("inoculated_on: %s", messageOf(err))
	}
	if err == nil && (on > r.farm.Today || on < DateOn(earliestInoculation, time.January, 1)) {
		note("inoculated_on: must be from 2000-01-01 to today")
	}
	bag := SheetBag{Line: row.line, Place: PlaceName(cells["place"]), Conditions: r.conditions(cells, note)}
	r.seen(&bag, cells, on, note)
	r.number(&bag, cells["bag"], note)
	if k := r.batchOf(row.line, cells, on, note); k >= 0 && len(wrong) == 0 {
		r.batches[k].Bags = append(r.batches[k].Bags, bag)
	}
	if len(wrong) > 0 {
		r.problems.Add(fmt.Sprintf("line %d", row.line), "%s", strings.Join(wrong, "; "))
	}
}

func (r *sheetReader) number(bag *SheetBag, cell string, note func(string, ...any)) {
	if cell == "" {
		return
	}
	n, err := strconv.Atoi(cell)
	if err != nil || n < 1 || n > MostBags {
		note("bag: must be a number from 1 to %d", MostBags)
		return
	}
	bag.Number = n
}

// seen reads the dated columns.
func (r *sheetReader) seen(bag *SheetBag, cells map[string]string, made Date, note func(string, ...any)) {
	for _, column := range seenColumns {
		cell := cells[column]
		if cell == "" {
			continue
		}
		on, err := sheetDate(cell)
		switch {
		case err != nil:
			note("%s: %s", column, messageOf(err))
		case on < made:
			note("%s: is before the bag was made", column)
		case on > r.farm.Today:
			note("%s: is in the future", column)
		}
		bag.Seen = append(bag.Seen, SheetDate{column, on})
	}
	slices.SortStableFunc(bag.Seen, func(a, b SheetDate) int { return cmp.Compare(a.On, b.On) })
	bag.What = cmp.Or(strings.ReplaceAll(strings.ToLower(cells["what"]), " ", "_"), "unsure")
	if !IsWhat(bag.What) {
		note("what: must be one of %s", strings.Join(Whats(), ", "))
	}
	if cells["what"] != "" && cells[ColumnContaminated] == "" {
		note("what: says what was found, but contaminated_on is empty")
	}
	if cells[ColumnCulled] != "" && cells[ColumnFinished] != "" {
		note("%s: a bag that was culled cannot also be finished", ColumnFinished)
	}
}

// sheetDate reads YYYY-MM-DD and says what is meant where another way of
// writing a date was used.
func sheetDate(cell string) (Date, error) {
	on, err := ParseDate(cell)
	if err != nil {
		return 0, Errorf(Invalid, "%q is not a date like 2026-03-14: the year comes first, then month and day, so that 03/04 cannot be two days", cell)
	}
	return on, nil
}

// conditions reads the condition:KEY columns. A key that the farm does not
// have becomes one of its own.
func (r *sheetReader) conditions(cells map[string]string, note func(string, ...any)) map[string]string {
	out := map[string]string{}
	for _, name := range r.header {
		key, ok := strings.CutPrefix(name, conditionStart)
		value := strings.Join(strings.Fields(strings.ToLower(cells[name])), "_")
		if !ok || value == "" || value == Unknown {
			continue
		}
		c, known := r.farm.Conditions[key]
		switch {
		case known:
			if _, err := c.Value(&value); err != nil {
				note("%s: %s", name, messageOf(err))
			}
		case !conditionValue.MatchString(value):
			note("%s: %q: a value is letters, digits and _, at most 40", name, cells[name])
		case !slices.Contains(r.fresh[key], value):
			r.fresh[key] = append(r.fresh[key], value)
		}
		out[key] = value
	}
	return out
}

// batchOf finds the row's batch, or starts it; -1 if it cannot be told.
func (r *sheetReader) batchOf(line int, cells map[string]string, on Date, note func(string, ...any)) int {
	text := cells["batch"]
	if text == "" || cells["species"] == "" {
		return -1
	}
	species, err := SpeciesNamed(r.farm.Species, cells["species"])
	if err != nil {
		note("species: %q %s", cells["species"], messageOf(err))
		return -1
	}
	k, there := r.at[text]
	if !there {
		k, r.at[text] = len(r.batches), len(r.batches)
		r.batches = append(r.batches, SheetBatch{Text: text, Line: line, On: on, Fields: BatchFields{Species: species.Slug}})
	}
	b := &r.batches[k]
	if b.Fields.Species != species.Slug {
		note("species: batch %q is %s on line %d; a batch has one species", text, b.Fields.Species, b.Line)
	}
	if b.On != on {
		note("inoculated_on: batch %q was made on %s on line %d; a batch has one day", text, b.On, b.Line)
	}
	for column, field := range b.Fields.shared() {
		r.share(column, field, cells[column], b, note)
	}
	return k
}

// shared are the columns that belong to a whole batch.
func (f *BatchFields) shared() map[string]**string {
	return map[string]**string{"strain": &f.Strain, "spawn_lot": &f.SpawnLot, "steriliser_run": &f.SteriliserRun, "recipe": &f.Recipe, "operator": &f.Operator}
}

func (r *sheetReader) share(column string, field **string, cell string, b *SheetBatch, note func(string, ...any)) {
	if cell == "" {
		return
	}
	var p Problems
	CheckName(&p, column, cell)
	if message, bad := p[column]; bad {
		note("%s: %s", column, message)
	}
	if *field == nil {
		*field = &cell
	} else if **field != cell {
		note("%s: batch %q has %q on another line; a batch has one", column, b.Text, **field)
	}
}

// finish numbers the bags that have no number and looks for numbers twice.
func (r *sheetReader) finish() {
	for k := range r.batches {
		b := &r.batches[k]
		taken := map[int]int{}
		for _, g := range b.Bags {
			if line, twice := taken[g.Number]; twice && g.Number > 0 {
				r.problems.Add(fmt.Sprintf("line %d", g.Line), "bag: batch %q has bag %d on line %d already", b.Text, g.Number, line)
			}
			taken[g.Number] = g.Line
		}
		next := 1
		for i := range b.Bags {
			if b.Bags[i].Number > 0 {
				continue
			}
			for taken[next] > 0 {
				next++
			}
			b.Bags[i].Number, taken[next] = next, b.Bags[i].Line
		}
		if next > MostBags || len(b.Bags) > MostBags {
			r.problems.Add(fmt.Sprintf("line %d", b.Line), "batch: %q has more than %d bags", b.Text, MostBags)
		}
	}
}

// newConditions are the farm's own conditions that the file brings: nothing is
// normal about them until the farm says so.
func (r *sheetReader) newConditions() []Condition {
	var out []Condition
	for _, key := range slices.Sorted(maps.Keys(r.fresh)) {
		values := r.fresh[key]
		slices.Sort(values)
		out = append(out, Condition{Key: key, Label: strings.ReplaceAll(key, "_", " "), Level: BagLevel, Values: values, Shorts: map[string]string{}})
	}
	return out
}
