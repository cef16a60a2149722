package plan

import (
	"hash/fnv"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// Runs is how many plays an answer rests on. A 10 % point of 400 plays is off by
// 1.5 points of 100 (one standard error).
const Runs = 400

// A Bag is a bag alive. Days count back from today.
type Bag struct {
	Stage  Stage
	Age    float64 // since inoculation
	Grown  Range   // of a growing bag: its forecast, days since inoculation
	Waited float64 // since it was grown over, moved to fruiting, or last picked
	Picked int     // flushes given
	Held   float64 // days from today before which it is not moved
}

// A Batch is what is alive of one batch.
type Batch struct {
	Name string // draws hang on it
	// Grow says what bags of the batch share of their days to grown over; the days
	// themselves are each bag's own forecast.
	Grow Law
	Lost int // bags that gave nothing
	Gave int // bags out that gave something
	Bags []Bag
}

// seedOf makes a generator that hangs on some names only.
func seedOf(names ...string) *rand.Rand {
	h := fnv.New64a()
	for _, n := range names {
		h.Write([]byte(n))
		h.Write([]byte{0})
	}
	return rand.New(rand.NewPCG(h.Sum64(), 0x6b61676d61726b))
}

// A mood is what all batches of a kind share in one play, or all bags of one
// batch: standard normals, and the chance to give nothing.
type mood struct {
	grow, ripen, first, next, crop float64
	loss                           float64
}

func moodOf(r *rand.Rand) mood {
	return mood{grow: r.NormFloat64(), ripen: r.NormFloat64(), first: r.NormFloat64(), next: r.NormFloat64(), crop: r.NormFloat64()}
}

// moods are those of the kind, play by play.
func (k Kind) moods() []mood {
	r := seedOf("kind", k.Name)
	loss := distuv.Beta{Alpha: k.Loss.Bad, Beta: k.Loss.Good, Src: r}
	out := make([]mood, Runs)
	for i := range out {
		out[i] = moodOf(r)
		out[i].loss = loss.Rand()
	}
	return out
}

// waiting is one bag made ready for play.
type waiting struct {
	Bag
	still    dial    // days to go in the step it is in
	happened float64 // share of losses behind it
	waits    float64 // chance that a bag that gives has given nothing for so long
	gives    float64 // of a bag picked from: chance that it gives its next flush
}

// player plays the bags of one batch.
type player struct {
	kind               *Kind
	grow               loads
	ripen, first, next struct {
		loads
		dial
	}
	bags     []waiting
	lossBad  float64 // what the batch itself tells of its losses
	lossGood float64
	names    []string // draws hang on them
}

func (k *Kind) player(b Batch, name string) *player {
	p := &player{kind: k, grow: b.Grow.loads(), names: []string{"batch", k.Name, name}, lossBad: float64(b.Lost), lossGood: float64(b.Gave)}
	p.ripen.loads, p.ripen.dial = k.Ripen.loads(), k.Ripen.after(0)
	p.first.loads, p.first.dial = k.First.loads(), k.First.after(0)
	p.next.loads, p.next.dial = k.Next.loads(), k.Next.after(0)
	dials := map[Bag]dial{}
	for _, g := range b.Bags {
		w := waiting{Bag: g, happened: k.Loss.happened(g), waits: 1}
		same := Bag{Stage: g.Stage, Age: g.Age, Grown: g.Grown, Waited: g.Waited, Picked: min(g.Picked, 1)}
		d, known := dials[same]
		switch {
		case known:
		case g.Stage == Growing:
			d = g.Grown.after(g.Age)
		case g.Stage == Ripening:
			d = k.Ripen.after(g.Waited)
		case g.Picked == 0:
			d = k.First.after(g.Waited)
		default:
			d = k.Next.after(g.Waited)
		}
		dials[same], w.still = d, d
		if g.Stage == Fruiting && g.Picked == 0 {
			w.waits = k.First.beyond(g.Waited)
		}
		if g.Picked > 0 {
			w.gives = k.givesAgain(g)
		}
		p.lossGood += w.happened
		p.bags = append(p.bags, w)
	}
	return p
}

// surest bounds what records of few bags may claim of the next flush.
const surest = 0.98

// givesAgain is the chance that a bag picked from gives its next flush, the less
// likely the longer it has rested.
func (k *Kind) givesAgain(g Bag) float64 {
	if g.Picked >= len(k.Flushes) {
		return 0
	}
	c := math.Min(surest, k.Flushes[g.Picked].Chance)
	s := k.Next.beyond(g.Waited)
	return c * s / (c*s + 1 - c)
}

// watcher is told what happens to a bag in a play, in days from today.
type watcher interface {
	moved(run int, day float64)
	picked(run int, day, grams float64)
	spent(run int, day float64)
}

// play plays every bag through all runs.
func (p *player) play(moods []mood, w watcher) {
	k, r := p.kind, seedOf(p.names...)
	size := k.Loss.size()
	loss := distuv.Beta{Src: r}
	for run, m := range moods {
		z := moodOf(r)
		loss.Alpha, loss.Beta = math.Max(1e-6, m.loss*size+p.lossBad), math.Max(1e-6, (1-m.loss)*size+p.lossGood)
		z.loss = loss.Rand()
		z.crop = math.Max(0, k.Crop.Mean+k.Crop.SD*m.crop+k.Crop.Between*z.crop)
		for i := range p.bags {
			p.bag(run, &p.bags[i], m, z, r, w)
		}
	}
}

// gives tells whether a bag gives anything from now on.
func (w *waiting) giving(p, u float64) bool {
	if w.Picked > 0 {
		return u < w.gives
	}
	risk := p * (1 - w.happened) / (1 - p*w.happened)
	if w.happened >= 1 || risk >= 1 {
		return risk < 1
	}
	return u*((1-risk)*w.waits+risk) < (1-risk)*w.waits
}

// bag plays one bag. z.crop is its batch's mean crop in grams.
func (p *player) bag(run int, g *waiting, m, z mood, r *rand.Rand, w watcher) {
	k := p.kind
	gives := g.giving(z.loss, r.Float64())
	day := 0.0
	if g.Stage == Growing {
		day = g.still.at(p.grow.of(m.grow, z.grow, r.NormFloat64()))
	}
	if g.Stage != Fruiting {
		own := p.ripen.of(m.ripen, z.ripen, r.NormFloat64())
		if g.Stage == Ripening {
			day = g.still.at(own)
		} else {
			day += p.ripen.at(own)
		}
		day = math.Max(day, g.Held)
		w.moved(run, day)
	}
	if !gives {
		w.spent(run, day)
		return
	}
	grams := math.Max(0, z.crop*(1+r.NormFloat64()*k.Crop.Within/k.Crop.Mean))
	for f := g.Picked; f < len(k.Flushes); f++ {
		if f > g.Picked && f > 0 && r.Float64() >= k.Flushes[f].Chance {
			break
		}
		switch {
		case f == g.Picked && g.Stage == Fruiting && f == 0:
			day = g.still.at(p.first.of(m.first, z.first, r.NormFloat64()))
		case f == g.Picked && g.Stage == Fruiting:
			day = g.still.at(p.next.of(m.next, z.next, r.NormFloat64()))
		case f == 0:
			day += p.first.at(p.first.of(m.first, z.first, r.NormFloat64()))
		default:
			day += p.next.at(p.next.of(m.next, z.next, r.NormFloat64()))
		}
		w.picked(run, day, grams*k.Flushes[f].Share)
	}
	w.spent(run, day)
}
