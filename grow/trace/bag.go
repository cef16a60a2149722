package trace

// When is a whole day of a bag's life (inoculation day 0), or never: the zero value.
type When struct {
	day   int
	known bool
}

// On is a day on which something happened.
func On(day int) When { return When{day, true} }

// Day is the day, and whether there is one.
func (w When) Day() (day int, ok bool) { return w.day, w.known }

// By tells whether it happened on or before the day.
func (w When) By(day int) bool { return w.known && w.day <= day }

// Since tells whether it happened on or after the day.
func (w When) Since(day int) bool { return w.known && w.day >= day }

// GoneContaminated is the reason of a bag thrown out as contaminated. If no entry of its own said so, the day it
// went is taken as the day it was found contaminated.
const GoneContaminated = "contaminated"

// A Bag is what the counting rule needs to know of one bag.
type Bag struct {
	Code    string
	Batch   string // same text: same batch
	Number  int    // in its batch, from 1
	Species string
	Horizon int // the species' day: contaminated by this day or not is what is compared
	Age     int // whole days since inoculation, also for bags that are gone

	Contaminated When   // first contamination entry that is not voided
	LastSeen     When   // last day that someone saw it; losing a bag is not seeing it
	Gone         When   // culled, finished, sold, lost
	GoneAs       string // why it went, as logged
}

// badOn is the day the bag was found contaminated.
func (b Bag) badOn() When {
	if !b.Contaminated.known && b.GoneAs == GoneContaminated {
		return b.Gone
	}
	return b.Contaminated
}

// Alive tells whether the bag still stands and is not known to be contaminated.
func (b Bag) Alive() bool { return !b.badOn().known && !b.Gone.known }

// An Outcome is what a bag counts as on a given day.
type Outcome int

const (
	Clean  Outcome = iota // seen on that day or later with no contamination by then
	Bad                   // found contaminated on or before that day
	Unseen                // nobody looked since before that day
	Left                  // gone before that day for another reason
	Young                 // its batch has not reached the day
)

// OutcomeBy is what the bag counts as on a day that its batch has reached.
func (b Bag) OutcomeBy(day int) Outcome {
	bad := b.badOn()
	switch {
	case bad.By(day):
		return Bad
	case b.Gone.known && b.Gone.day < day:
		return Left
	case bad.known || b.LastSeen.Since(day): // found bad later is seen without contamination until then
		return Clean
	}
	return Unseen
}

// A Level says whether a condition is set for single bags or for a whole batch.
type Level string

const (
	BagLevel   Level = "bag"
	BatchLevel Level = "batch"
)

// An Exposure is one bag's value of a condition as it stood before the bag was found contaminated.
type Exposure struct {
	Value string // "" where it is not recorded, unknown or a guess: the bag is not counted
	Late  bool   // set or changed after the bag was found contaminated; Value is what stood before
}

// A Column is one condition over all bags.
type Column struct {
	Key    string // as in the farm's records: flow_hood, spawn_lot
	Label  string // for people: "flow hood"; the key if empty
	Level  Level
	Normal string     // "" where no value is normal and each is compared with the rest
	Only   string     // asked about this value alone; "": about every value that is not normal
	Values []Exposure // one a bag, in the order of the bags
}

// value is the exposure of bag i; a column that is too short knows nothing of the rest.
func (c Column) value(i int) Exposure {
	if i < len(c.Values) {
		return c.Values[i]
	}
	return Exposure{}
}
