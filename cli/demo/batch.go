package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// batch is a batch with what will become of its bags, which nobody on the farm
// knows beforehand.
type batch struct {
	plan
	*kind
	farm   *farm
	random *rand.Rand // its own, so that no batch hangs on another
	code   grow.BatchCode
	made   time.Time
	bags   []*bag
	later  []happening
	// recorded is how many days ago the farm heard of it.
	recorded int
	nobody   bool // nobody has had a bag of it in the hand yet
}

// bag is one bag: its fate, and what has been seen of it so far.
type bag struct {
	*batch
	number int
	code   grow.Code

	done     float64 // the day on which its wall is grown over
	ripe     int     // days from grown over to the move
	crop     float64 // grams in all flushes
	spoil    *spoil
	shaken   bool
	ends     string            // how it goes instead of to fruiting: sold, sample, leak; "" to fruiting
	switches map[string]string // what a switch at the bench said of it
	unmarked bool

	out, grown, moved int // days of its life on which that came, 0 for not yet
	apart, begun      bool
	found             bool
	watched           bool
	flush, nextPick   int
}

// spoil is mould that will show.
type spoil struct {
	day         int
	what, where string
	after       string // what is done when it is found: cull, apart or leave
}

// happening is something that befalls on one day besides the ordinary.
type happening struct {
	ago   int
	bag   int
	draft grow.Draft
	photo *picture
	of    *bag // the one it is watched for
}

// say adds an entry of a bag on a day so many days ago.
func (b *batch) say(ago, bag int, d grow.Draft) {
	b.later = append(b.later, happening{ago: ago, bag: bag, draft: d})
}

// watch puts a bag on watch because of another.
func (b *batch) watch(ago, bag, of int, because string) {
	d := grow.Draft{Kind: grow.KindWatch, Details: grow.Details{Because: because}}
	b.later = append(b.later, happening{ago: ago, bag: bag, draft: d, of: b.bag(of)})
}

// show adds a photo of a bag.
func (b *batch) show(ago, bag int, p picture) {
	p.seed = uint64(b.ago*100 + bag)
	b.later = append(b.later, happening{ago: ago, bag: bag, photo: &p})
}

// newBatch draws the fates of a batch's bags.
func newBatch(f *farm, p plan, nth int) *batch {
	b := &batch{plan: p, kind: kinds[p.kind], farm: f, random: rand.New(rand.NewPCG(seed, uint64(nth))), recorded: p.ago}
	luck := math.Exp(0.08 * b.random.NormFloat64())
	for n := 1; n <= p.bags; n++ {
		b.bags = append(b.bags, b.newBag(n, luck))
	}
	if p.story != nil {
		p.story(b)
	}
	return b
}

func (b *batch) newBag(number int, luck float64) *bag {
	r := b.random
	g := &bag{batch: b, number: number, shaken: true, ripe: days(r, b.ripe[0], b.ripe[1]),
		done: b.typical * luck * math.Exp(0.08*r.NormFloat64()),
		crop: dryG * between(r, b.efficiency[0], b.efficiency[1]) / 100}
	switch chance := r.Float64(); {
	case b.clean:
	case chance < 0.035:
		g.spoil = ordinarySpoil(r)
	case chance < 0.045:
		g.ends = "leak"
	case chance < 0.06:
		g.ends = pick(r, "sold", "given", "sample", "used_as_spawn")
	}
	return g
}

// ordinarySpoil is what spoils three bags in a hundred; days and places are
// common practice.
func ordinarySpoil(r *rand.Rand) *spoil {
	after := pick(r, "cull", "cull", "cull", "apart")
	switch r.IntN(8) {
	case 0:
		return &spoil{days(r, 3, 5), "wet_spot", pick(r, "spawn_points", "bottom_corner"), "apart"}
	case 1:
		return &spoil{days(r, 6, 12), "blue_green_mould", pick(r, "top", "filter"), after}
	case 2:
		return &spoil{days(r, 3, 5), "black_pin_mould", "top", "cull"}
	}
	return &spoil{days(r, 6, 13), "green_mould", pick(r, "spawn_points", "seal", "bottom_corner", "hole"), after}
}

// bag gives a bag by its number.
func (b *batch) bag(number int) *bag { return b.bags[number-1] }

// draft is what the farm is told of the batch.
func (b *batch) draft(run string, blanks []grow.Code) grow.BatchDraft {
	wet, moisture, rate, lab := bagWetG, moisturePct, 4.0, "lab day "+b.made.Format("2 January")
	recipe, lot, strain := b.kind.recipe, b.lotInUse(), b.strains[(b.ago/50)%len(b.strains)]
	if b.plan.recipe != "" {
		recipe = b.plan.recipe
	}
	operator := b.hands().Person
	place := fmt.Sprintf("%s > shelf %d", b.rack, 1+b.ago/7%3)
	d := grow.BatchDraft{Bags: b.plan.bags, BagConditions: b.own, Blanks: blanks, BatchFields: grow.BatchFields{
		Species: b.slug, InoculatedAt: b.made, LabDay: &lab, Strain: &strain, BagWetG: &wet, MoisturePct: &moisture, SpawnLot: &lot, SpawnRatePct: &rate,
		SteriliserRun: &run, Recipe: &recipe, Operator: &operator, Place: &place, Conditions: b.usual()}}
	if b.note != "" {
		d.Note = &b.note
	}
	id := b.farm.newID()
	d.ID = &id
	return d
}

// lotInUse changes every seven weeks.
func (b *batch) lotInUse() string {
	if b.plan.lot != "" {
		return b.plan.lot
	}
	return fmt.Sprintf("%s-%d", b.kind.lot, 2+(plans[0].ago-b.ago)/49)
}

// usual are the conditions as they were recorded: fewer in the first weeks.
func (b *batch) usual() map[string]*string {
	values := map[string]string{"flow_hood": "on", "shaken": "yes", "run_complete": "yes"}
	if b.ago < 180 {
		for key, value := range map[string]string{"gloves": "yes", "wiped": "yes", "seal": "heat", "filter": "dry", "bag": "sound", "cool_down": "filtered", "room_at_inoc": "still", "method": "grain"} {
			values[key] = value
		}
	}
	for key, value := range b.conditions {
		values[key] = value
	}
	out := make(map[string]*string, len(values))
	for key, value := range values {
		out[key] = &value
	}
	return out
}

// hands are who made the batch.
func (b *batch) hands() store.Actor {
	if b.ago/7%2 == 0 {
		return maren
	}
	return joss
}
