package store

import (
	"cmp"
	"math"
	"slices"

	"bagmark/grow"
	"bagmark/grow/forecast"
	"bagmark/grow/mix"
	"bagmark/grow/plan"
	"bagmark/grow/yield"
)

// mostPast is how many of a species' done batches the plan learns from, the
// newest: a farm changes.
const mostPast = 50

// AheadBasis says what the figures of a species rest on, step by step: how many
// of the farm's own batches, 0 for built-in figures.
type AheadBasis struct {
	Growing  string  `json:"days_to_grown_over"` // as forecasts say it
	Ripening int     `json:"batches_to_fruiting"`
	First    int     `json:"batches_to_first_pick"`
	Between  int     `json:"batches_between_flushes"`
	Crop     int     `json:"batches_of_crop"`
	CropMark string  `json:"crop_mark"` // of the built-in efficiency, "" with the farm's own
	DryG     float64 `json:"dry_g"`     // of a bag, of built-in figures
	// GramsBag is from batch to batch, bags that give nothing inside; LostPct is how
	// many of a hundred made those are, as far as that is known.
	GramsBag plan.Figure `json:"grams_per_bag_made"`
	LostPct  plan.Figure `json:"lost_pct"`
}

// Own tells that days and grams are the farm's own throughout.
func (b AheadBasis) Own() bool {
	return b.Crop > 0 && b.First > 0 && b.Growing != forecast.Basis{Source: forecast.Published}.String()
}

// aheadKind is a species, or a strain with records of its own.
type aheadKind struct {
	plan.Kind
	basis AheadBasis
}

// pastBags are the bags that tell of a species or strain, by batch, the newest
// first.
type pastBags struct {
	done  [][]*bagRecord // bags that count, of batches that are done
	moved [][]*bagRecord // bags moved to fruiting, and those that wait to be
}

func (p *pastBags) full() bool { return len(p.done) >= mostPast && len(p.moved) >= mostPast }

// kindKey names a kind.
type kindKey struct {
	species grow.Slug
	strain  string // "" for all of the species
}

// past is what the farm's newest batches tell, by species and by strain, and what
// a bag of each species weighs dry.
type past struct {
	kinds map[kindKey]*pastBags
	dry   map[grow.Slug]float64 // of the newest batch that says; "" for any species
}

// pastByKind gathers it.
func (r *records) pastByKind() past {
	out := past{map[kindKey]*pastBags{}, map[grow.Slug]float64{}}
	for _, b := range r.spans() {
		first := &r.bags[b[0]]
		for _, species := range []grow.Slug{first.species, ""} {
			if _, known := out.dry[species]; !known && first.crop.DryG > 0 {
				out.dry[species] = first.crop.DryG
			}
		}
		keys := []kindKey{{species: first.species}}
		if strain := r.batches[first.batch].fields["strain"]; strain != "" {
			keys = append(keys, kindKey{first.species, nameKey(strain)})
		}
		var done, moved []*bagRecord
		read := false
		for _, k := range keys {
			p := out.kinds[k]
			if p == nil {
				p = &pastBags{}
				out.kinds[k] = p
			}
			if p.full() {
				continue
			}
			if !read {
				done, moved = r.tellOf(b)
				read = true
			}
			p.add(done, moved)
		}
	}
	return out
}

func (p *pastBags) add(done, moved []*bagRecord) {
	if len(done) > 0 && len(p.done) < mostPast {
		p.done = append(p.done, done)
	}
	if len(moved) > 0 && len(p.moved) < mostPast {
		p.moved = append(p.moved, moved)
	}
}

// tellOf picks the bags of one batch that count for what they gave, and of one from
// which bags were moved to fruiting those, and those that wait to be.
func (r *records) tellOf(batch [2]int) (done, moved []*bagRecord) {
	bags := r.bags[batch[0]:batch[1]]
	crops, any := make([]yield.Bag, len(bags)), false
	for i := range bags {
		crops[i] = bags[i].crop
		if bags[i].fruited || bags[i].steps.waits == waitsForMove {
			moved = append(moved, &bags[i])
		}
		any = any || bags[i].fruited
	}
	if !any {
		moved = nil
	}
	for _, i := range yield.Count(crops, yield.Grams).Bags {
		done = append(done, &bags[i])
	}
	return done, moved
}

// spans are the batches' bags as index ranges, the newest batch first. Bags
// stand by batch.
func (r *records) spans() (out [][2]int) {
	for i := 0; i < len(r.bags); {
		end := i
		for end < len(r.bags) && r.bags[end].batch == r.bags[i].batch {
			end++
		}
		out = append(out, [2]int{i, end})
		i = end
	}
	slices.SortFunc(out, func(a, b [2]int) int {
		return cmp.Or(cmp.Compare(r.bags[b[0]].inoculated, r.bags[a[0]].inoculated), cmp.Compare(b[0], a[0]))
	})
	return out
}

// kindOf is how a species does on the farm: built-in figures, sharpened by its
// batches. days is its law of days to grown over.
func (f *Farm) kindOf(species grow.Species, key kindKey, days forecast.Law, p *pastBags, dryG float64) aheadKind {
	guide := species.Fruiting
	k := aheadKind{basis: AheadBasis{Growing: days.Basis.String(), CropMark: string(guide.BE.Mark), DryG: dryG}}
	k.Kind = plan.Kind{Name: string(key.species) + " " + key.strain, Grow: planLaw(days),
		Ripen:   plan.FromRange(species.RipeningDays.Low, species.RipeningDays.High, 1),
		First:   plan.FromRange(guide.Pinning.Days.Low+guide.Growing.Days.Low, guide.Pinning.Days.High+guide.Growing.Days.High, 0),
		Next:    plan.FromRange(guide.Between.Low, guide.Between.High, 0),
		Flushes: plan.BuiltInFlushes(int(guide.Flushes.Middle())), Crop: plan.BuiltInCrop(dryG, guide.BE.Low, guide.BE.High), Loss: plan.BuiltInLoss()}
	if p != nil {
		k.learn(*p)
	}
	return k
}

// told is the basis with the figures that people read.
func (k aheadKind) told() AheadBasis {
	b := k.basis
	grams, lost := k.Usual()
	tenths := func(share float64) float64 { return math.Round(1000*share) / 10 }
	b.GramsBag, b.LostPct = roundGrams(grams), plan.Figure{Low: tenths(lost.Low), Likely: tenths(lost.Likely), High: tenths(lost.High)}
	return b
}

func planLaw(l forecast.Law) plan.Law {
	return plan.Law{Mean: l.Mean, SD: l.SD, Between: l.Between, Within: l.Within}
}

func (k *aheadKind) learn(p pastBags) {
	for _, step := range []struct {
		law  *plan.Law
		used *int
		is   step
		of   func(steps) []int16
	}{
		{&k.Ripen, &k.basis.Ripening, waitsForMove, func(s steps) []int16 { return []int16{s.ripen} }},
		{&k.First, &k.basis.First, waitsForFirst, func(s steps) []int16 { return []int16{s.first} }},
		{&k.Next, &k.basis.Between, waitsForNext, func(s steps) []int16 { return s.next }},
	} {
		days := p.daysOf(step.is, step.of)
		if law, ok := step.law.LearnDays(days); ok {
			*step.law, *step.used = law, len(days)
		}
	}
	past := make([]plan.PastBatch, len(p.done))
	for i, b := range p.done {
		for _, g := range b {
			past[i] = append(past[i], plan.PastBag{Flushes: g.crop.Flushes, Ended: stageOf(g)})
		}
	}
	if kind, ok := k.Kind.Learn(past); ok {
		k.Kind, k.basis.Crop, k.basis.CropMark, k.basis.DryG = kind, len(past), "", 0
	}
}

// mostWaiting is the share of a batch's bags that may still wait in a step for the
// others to tell of it; what never fruits is among them (common practice).
const mostWaiting = 0.1

// daysOf are the days of one step, by batch. A batch with more bags that wait in it
// tells nothing yet: those that are through are its quick ones.
func (p pastBags) daysOf(is step, of func(steps) []int16) (out [][]float64) {
	for _, b := range p.moved {
		var days []float64
		waiting := 0
		for _, g := range b {
			if g.steps.waits == is {
				waiting++
			}
			for _, d := range of(g.steps) {
				if d >= 0 {
					days = append(days, float64(d))
				}
			}
		}
		if float64(waiting) <= mostWaiting*float64(len(b)) && len(days) > 0 {
			out = append(out, days)
		}
	}
	return out
}

// stageOf is how far a bag came.
func stageOf(g *bagRecord) plan.Stage {
	switch {
	case g.fruited:
		return plan.Fruiting
	case g.life.grownOver.known():
		return plan.Ripening
	}
	return plan.Growing
}

// A bag of 2.5 kg at 62 % moisture, where the farm has weighed none: common
// practice.
const (
	usualWetG     = 2500
	usualMoisture = 62
)

// dryOf is the dry mass of a bag of the newest batch of a species that has one,
// else of the farm's newest.
func (p past) dryOf(species grow.Slug) float64 {
	for _, of := range []grow.Slug{species, ""} {
		if dry, known := p.dry[of]; known {
			return dry
		}
	}
	return mix.Dry(usualWetG, usualMoisture)
}
