package yield

import "bagmark/grow"

// Fate says whether all that a bag will give is on record.
type Fate int

// The fates.
const (
	Giving    Fate = iota // it may give more
	Done                  // out, or rested for so long that nothing more comes
	Elsewhere             // sold, given away, used or lost: it fruits where nobody weighs
)

// A Bag is what the counting needs to know of one bag.
type Bag struct {
	Batch   string // same text: same batch
	Species string
	Fate    Fate
	Culled  string // why it was thrown out, "" if it was not
	Spent   bool   // finished in the ordinary way
	DryG    float64
	Grams   float64   // of all flushes
	Flushes []float64 // grams of each, from the first; flushes nobody weighed are 0
	// ToFirst and Fruited are days from inoculation to the first picking and from
	// the move to fruiting to it, -1 where there is none.
	ToFirst, Fruited int
}

// Measure is what is compared.
type Measure string

// The measures: grams a bag, the same in ounces for farms that weigh in them, or
// biological efficiency of each bag in per cent.
const (
	Grams      Measure = "grams"
	Ounces     Measure = "ounces"
	Efficiency Measure = "efficiency"
)

// Unit is the measure's unit in words.
func (m Measure) Unit() string {
	switch m {
	case Efficiency:
		return "% efficiency"
	case Ounces:
		return "oz a bag"
	}
	return "g a bag"
}

// of is the bag's value; ok is false where it has none.
func (m Measure) of(b Bag) (v float64, ok bool) {
	switch m {
	case Grams:
		return b.Grams, true
	case Ounces:
		return b.Grams / grow.GramsPerOunce, true
	}
	if !(b.DryG > 0) {
		return 0, false
	}
	return 100 * b.Grams / b.DryG, true
}

// enough is the share of a batch's bags that must be done before any counts: the
// first to leave are the bad ones, and a batch judged by them looks worse than
// it is. Then all count, the last with what they have given so far: those that
// never fruit are among them, and a mean without them would flatter the batch.
const enough = 0.9

// Counted says which bags count, and why the others do not.
type Counted struct {
	Bags []int // indexes of those that count
	// Giving are bags of batches that are not done; Elsewhere went where nobody weighs; NotWeighed are of batches in which
	// bags were spent and nothing was ever weighed; NoDry have no dry mass.
	Giving, Elsewhere, NotWeighed, NoDry int
}

// batchTally is what decides whether a batch counts.
type batchTally struct{ done, giving, spent, weighed int }

func (b *batchTally) add(g Bag) {
	switch g.Fate {
	case Done:
		b.done++
	case Giving:
		b.giving++
	}
	if g.Spent {
		b.spent++
	}
	if len(g.Flushes) > 0 {
		b.weighed++
	}
}

func (b *batchTally) closed() bool { return float64(b.done) >= enough*float64(b.done+b.giving) }

func (b *batchTally) unweighed() bool { return b.spent > 0 && b.weighed == 0 }

// Count decides which bags tell something by a measure. Bags of one batch may
// stand anywhere in the list; those beside each other are counted fastest.
func Count(bags []Bag, m Measure) Counted {
	batches := map[string]*batchTally{}
	var last *batchTally
	of := func(i int) *batchTally {
		if i > 0 && last != nil && bags[i].Batch == bags[i-1].Batch {
			return last
		}
		if last = batches[bags[i].Batch]; last == nil {
			last = &batchTally{}
			batches[bags[i].Batch] = last
		}
		return last
	}
	for i, b := range bags {
		of(i).add(b)
	}
	var out Counted
	last = nil
	for i, b := range bags {
		batch := of(i)
		_, measured := m.of(b)
		switch {
		case b.Fate == Elsewhere:
			out.Elsewhere++
		case !batch.closed():
			out.Giving++
		case batch.unweighed():
			out.NotWeighed++
		case !measured:
			out.NoDry++
		default:
			out.Bags = append(out.Bags, i)
		}
	}
	return out
}
