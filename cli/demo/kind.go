package demo

import (
	"math"

	"bagmark/grow"
)

// kind is how one species does on this farm. Days, biological efficiency and
// the look of growth are common practice for bags of 2.5 kg.
type kind struct {
	slug    grow.Slug
	strains []string
	recipe  string
	lot     string // the first letters of its spawn lots' names
	rack    string
	// typical is the usual day on which the wall is grown over, lag the days
	// before growth shows. shape is how late growth becomes visible: 3 is growth
	// in all directions from many points; thin growers look bare for longer.
	typical, lag, shape float64
	ripe                [2]int    // days from grown over to the move to fruiting
	first               [2]int    // days from the move to the first picking
	next                [2]int    // days between flushes
	flushes             []float64 // share of the crop in each
	efficiency          [2]float64
	opening             string
	slow                bool // looked at on every second round
}

const (
	bagWetG     = 2500.0
	moisturePct = 62.0
	dryG        = bagWetG * (1 - moisturePct/100)
)

var kinds = map[string]*kind{
	"oyster": {slug: "pleurotus-ostreatus", strains: []string{"Grey 3"}, recipe: "oak 80, bran 20", lot: "OY", rack: "bag room > rack 1",
		typical: 13, lag: 2.5, shape: 3, ripe: [2]int{1, 4}, first: [2]int{7, 11}, next: [2]int{8, 13},
		flushes: []float64{0.5, 0.3, 0.2}, efficiency: [2]float64{75, 110}, opening: "slit"},
	"king": {slug: "pleurotus-eryngii", strains: []string{"King A", "King B"}, recipe: "oak 80, bran 20", lot: "KI", rack: "bag room > rack 2",
		typical: 16.5, lag: 3, shape: 3.2, ripe: [2]int{4, 9}, first: [2]int{12, 16}, next: [2]int{13, 16},
		flushes: []float64{0.78, 0.22}, efficiency: [2]float64{42, 68}, opening: "top_cut"},
	"lion": {slug: "hericium-erinaceus", strains: []string{"Mane 2"}, recipe: "beech 80, bran 20", lot: "LI", rack: "bag room > rack 3",
		typical: 15, lag: 3, shape: 3, ripe: [2]int{1, 4}, first: [2]int{9, 13}, next: [2]int{13, 16},
		flushes: []float64{0.65, 0.35}, efficiency: [2]float64{35, 60}, opening: "holes"},
	"enoki": {slug: "flammulina-filiformis", strains: []string{"Snow 1"}, recipe: "oak 70, bran 30", lot: "EN", rack: "bag room > rack 4",
		typical: 16.5, lag: 3, shape: 3.2, ripe: [2]int{4, 7}, first: [2]int{11, 14}, next: [2]int{10, 13},
		flushes: []float64{0.7, 0.3}, efficiency: [2]float64{60, 95}, opening: "top_cut"},
	"shiitake": {slug: "lentinula-edodes", strains: []string{"Oakwood 5"}, recipe: "oak 85, bran 15", lot: "SH", rack: "bag room > rack 5",
		typical: 29, lag: 4.5, shape: 3, ripe: [2]int{42, 52}, first: [2]int{9, 13}, next: [2]int{16, 21},
		flushes: []float64{0.4, 0.25, 0.2, 0.15}, efficiency: [2]float64{55, 90}, opening: "unwrapped", slow: true},
	"beech": {slug: "hypsizygus-marmoreus", strains: []string{"White 2"}, recipe: "beech 80, bran 20", lot: "BE", rack: "bag room > rack 6",
		typical: 34, lag: 4.5, shape: 3, ripe: [2]int{42, 52}, first: [2]int{20, 25}, next: [2]int{16, 20},
		flushes: []float64{0.8, 0.2}, efficiency: [2]float64{50, 80}, opening: "top_cut", slow: true},
}

// grownOver is the share of the wall from which a bag is called grown over.
const grownOver = 0.985

// share is how much of the wall is white on a day in a bag that is done on the
// day given: points that start together after a lag and grow in all directions
// (Avrami, J. Chem. Phys. 7: 1103, 1939), scaled so that 99 in 100 are reached
// on the last day.
func (k *kind) share(day, done float64) float64 {
	if day <= k.lag {
		return 0
	}
	return -math.Expm1(math.Log(0.01) * math.Pow((day-k.lag)/(done-k.lag), k.shape))
}

// front is the same in a bag that was not shaken: one front from the top down.
func (k *kind) front(day, done float64) float64 {
	return math.Max(0, math.Min(1, (day-k.lag)/(done-k.lag)))
}
