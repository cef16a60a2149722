package trace

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// simFarms is how many farms are simulated: few in the ordinary run, and to measure
//
//	go test ./grow/trace -run FalseAlarms -v -args -sim-farms 500
var simFarms = flag.Int("sim-farms", 40, "farms in TestFalseAlarms")

// TestFalseAlarms asks whole pages of twelve conditions that do nothing, six of whole batches and six that differ
// inside batches, of farms whose batches differ by chance and by an intraclass correlation of 0.1. One page in twenty
// may point to anything: the run fails where so many would come out less than once in ten thousand, 37 of 500 being
// the 99 % point.
func TestFalseAlarms(t *testing.T) {
	t.Parallel()
	for _, batches := range []int{8, 24} {
		t.Run(fmt.Sprint(batches), func(t *testing.T) {
			t.Parallel()
			alarms := 0
			for k := range *simFarms {
				rnd := rand.New(rand.NewPCG(uint64(k), uint64(batches)))
				bags, columns := idleFarm(rnd, batches)
				pointed := false
				for _, r := range Compare(bags, columns, DefaultMargin) {
					pointed = pointed || r.Verdict == PointsTo
				}
				if pointed {
					alarms++
				}
			}
			t.Logf("%d of %d farms see anything pointed to", alarms, *simFarms)
			if p := 1 - (distuv.Binomial{N: float64(*simFarms), P: 0.05}).CDF(float64(alarms)-1); p < 1e-4 {
				t.Errorf("%d of %d farms: more than one in twenty", alarms, *simFarms)
			}
		})
	}
}

// idleFarm is batches of 24 bags with about one bag in ten bad, and twelve conditions that have nothing to do with it.
func idleFarm(rnd *rand.Rand, batches int) ([]Bag, []Column) {
	const mean, icc = 0.10, 0.1
	law := distuv.Beta{Alpha: mean * (1/icc - 1), Beta: (1 - mean) * (1/icc - 1), Src: rnd}
	f := newFarm()
	for range batches {
		rate := law.Rand()
		var bad []int
		for k := 1; k <= 24; k++ {
			if rnd.Float64() < rate {
				bad = append(bad, k)
			}
		}
		f.batch(24, "", nil, bad)
	}
	var columns []Column
	for k := range 12 {
		c := Column{Key: fmt.Sprintf("condition_%d", k), Level: BatchLevel, Normal: "as planned"}
		if k >= 6 {
			c.Level = BagLevel
		}
		for b := range batches {
			whole, first := rnd.IntN(3) == 0, rnd.IntN(20)
			some := k >= 6 && rnd.IntN(2) == 0
			for n := range 24 {
				v := "as planned"
				if k < 6 && whole || some && n >= first && n < first+5 {
					v = fmt.Sprintf("otherwise %d", k*b%2) // two ways in the odd columns
				}
				c.Values = append(c.Values, Exposure{Value: v})
			}
		}
		columns = append(columns, c)
	}
	return f.bags, columns
}
