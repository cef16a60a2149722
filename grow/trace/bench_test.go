package trace

import (
	"strconv"
	"testing"
	"time"
)

// large is 10^5 bags in 4,000 batches, five of each 25 with the hood off.
func large() *farm {
	f := newFarm()
	for k := range 4000 {
		lot := []string{"S-1", "S-2", "S-3", "S-4", "S-5"}[k%5]
		f.batch(25, lot, upTo(7, 11), [][]int{{7}, nil, {3, 20}, {8, 9}}[k%4])
	}
	return f
}

// BenchmarkCompare reports how many plain passes over the bags the rows of three columns take.
func BenchmarkCompare(b *testing.B) {
	f := large()
	columns := f.columns()
	pass := onePass(f)
	b.ResetTimer()
	for b.Loop() {
		Compare(f.bags, columns, DefaultMargin)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(pass), "passes")
}

// BenchmarkManyValues asks about a thousand steriliser runs at once, in plain passes over the bags.
func BenchmarkManyValues(b *testing.B) {
	f := large()
	run := Column{Key: KeySteriliserRun, Level: BatchLevel}
	for i := range f.bags {
		run.Values = append(run.Values, Exposure{Value: strconv.Itoa(i / 100)})
	}
	pass := onePass(f)
	b.ResetTimer()
	for b.Loop() {
		CompareBeside(f.bags, []Column{run}, f.columns(), DefaultMargin)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(pass), "passes")
}

// onePass is the shortest of ten runs of the counting rule over all bags.
func onePass(f *farm) time.Duration {
	best := time.Hour
	sum := 0
	for range 10 {
		start := time.Now()
		for _, x := range f.bags {
			sum += int(x.OutcomeBy(x.Horizon))
		}
		best = min(best, time.Since(start))
	}
	if sum < 0 {
		panic("no bag counts below nothing")
	}
	return best
}

// BenchmarkExact is the exact test of 4,000 batches beside the large-sample one.
func BenchmarkExact(b *testing.B) {
	f := large()
	var ss []Stratum
	for _, c := range counted(f.bags, f.hood, "off").Cells {
		ss = append(ss, c.stratum())
	}
	start := time.Now()
	for range 100 {
		MantelHaenszel(ss)
	}
	pooled := time.Since(start) / 100
	b.ResetTimer()
	for b.Loop() {
		e := NewExact(ss)
		e.Tails(0)
		e.OddsRatio()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(pooled), "pooled-tests")
}

// BenchmarkAtRisk lists what shares something with one bag of 10^5.
func BenchmarkAtRisk(b *testing.B) {
	f := large()
	pass := onePass(f)
	scene := Farm{Bags: f.bags, Columns: f.columns()}
	b.ResetTimer()
	for b.Loop() {
		scene.Kin(6, nil).AtRisk()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(pass), "passes")
}

// BenchmarkTurnbull is the curve of 10^5 bags looked at every three days.
func BenchmarkTurnbull(b *testing.B) {
	var spans []Span
	for k := range 100_000 {
		l := float64(9 + 3*(k*7%11) + k%3)
		spans = append(spans, Span{l, l + float64(1+k%4)})
	}
	for b.Loop() {
		Turnbull(spans)
	}
}
