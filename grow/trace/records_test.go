package trace

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawWhen is a day or never.
func drawWhen(t *rapid.T, name string) When {
	d := rapid.IntRange(-20, 40).Draw(t, name)
	if d < 0 {
		return When{}
	}
	return On(d)
}

func drawFarm(t *rapid.T) ([]Bag, []Column) {
	hood, lot := Column{Key: "flow_hood", Normal: "on"}, Column{Key: KeySpawnLot, Level: BatchLevel}
	var bags []Bag
	for k := range rapid.IntRange(1, 6).Draw(t, "batches") {
		age, l := rapid.IntRange(0, 40).Draw(t, "age"), rapid.SampledFrom([]string{"", "S-1", "S-2"}).Draw(t, "lot")
		for n := range rapid.IntRange(1, 8).Draw(t, "bags") {
			bags = append(bags, Bag{
				Batch: string(rune('A' + k)), Number: n + 1, Species: "king", Horizon: 20, Age: age,
				Contaminated: drawWhen(t, "bad"), LastSeen: drawWhen(t, "seen"), Gone: drawWhen(t, "gone"),
				GoneAs: rapid.SampledFrom([]string{"", "leak", GoneContaminated}).Draw(t, "why"),
			})
			hood.Values = append(hood.Values, Exposure{Value: rapid.SampledFrom([]string{"", "on", "off", "low"}).Draw(t, "hood"), Late: n == 3})
			lot.Values = append(lot.Values, Exposure{Value: l})
		}
	}
	return bags, []Column{hood, lot}
}

// Whatever the records, every bag with a known value of either side is counted once or said not to be, and every row
// can be written.
func TestCompareAnyRecords(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		bags, columns := drawFarm(t)
		for _, r := range Compare(bags, columns, DefaultMargin) {
			b, err := json.Marshal(r)
			if err != nil || strings.Contains(string(b), "NaN") || strings.Contains(string(b), "Inf") {
				t.Fatalf("%v: %s", err, b)
			}
			column := columns[0]
			if r.Key == KeySpawnLot {
				column = columns[1]
			}
			want := 0
			split := column.split(r.Value)
			for i := range bags {
				if s := split(i); s == with || s == without {
					want++
				}
			}
			if got := r.With.Bags + r.Without.Bags + r.NotCounted; got != want {
				t.Fatalf("%d bags counted or not, want %d: %s", got, want, b)
			}
			if none := r.With.Bags == 0 || r.Without.Bags == 0; none != (r.Verdict == NothingToCompare) {
				t.Fatalf("verdict %s: %s", r.Verdict, b)
			}
		}
		for i := range bags {
			for _, r := range (Farm{Bags: bags, Columns: columns}).Kin(i, nil).AtRisk() {
				if x := r.Risk; math.IsNaN(x.Estimate+x.Low+x.High) || x.Low < 0 || x.High > 1 || !bags[r.Bag].Alive() {
					t.Fatalf("risk %+v of %+v", r, bags[r.Bag])
				}
			}
		}
		for _, c := range columns {
			if _, err := json.Marshal(Groups(bags, c)); err != nil {
				t.Fatal(err)
			}
		}
	})
}
