package forecast

import (
	"testing"
	"time"
)

// BenchmarkLearn is the history of 500 batches of 12 bags, in terms of one fit of one batch's mean.
func BenchmarkLearn(b *testing.B) {
	var h History
	for k := range 500 {
		var spans []Span
		for n := range 12 {
			l := float64(12 + 3*((k+n)%4))
			spans = append(spans, Span{l, l + 3})
		}
		h = append(h, spans)
	}
	law := FromRange(14, 28)
	start := time.Now()
	for range 100 {
		FitMean(h[0], law.Within)
	}
	one := time.Since(start) / 100
	b.ResetTimer()
	for b.Loop() {
		law.Learn(h)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(one), "fits")
}

// BenchmarkBag is the forecast of one bag among eleven sisters, in terms of a forecast of a new bag's batch.
func BenchmarkBag(b *testing.B) {
	law := FromRange(14, 28)
	var sisters []Span
	for n := range 11 {
		l := float64(12 + 3*(n%4))
		sisters = append(sisters, Span{l, l + 3})
	}
	start := time.Now()
	for range 100 {
		law.Observe(sisters)
	}
	one := time.Since(start) / 100
	b.ResetTimer()
	for b.Loop() {
		law.Bag(Bag{Span: Running(18), Today: 18}, sisters)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(one), "grids")
}

// BenchmarkBatch forecasts 500 bags of one batch at once, in terms of one bag.
func BenchmarkBatch(b *testing.B) {
	law := FromRange(14, 28)
	var bags []Bag
	for n := range 500 {
		bags = append(bags, Bag{Span: Running(float64(12 + n%9)), Today: 21})
		if n%3 == 0 {
			bags[n].Reading = &Reading{float64(12 + n%9), float64(10+n%80) / 100}
		}
	}
	start := time.Now()
	for range 10 {
		law.Bag(bags[1], nil)
	}
	one := time.Since(start) / 10
	b.ResetTimer()
	for b.Loop() {
		law.Batch(bags)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(one), "bags")
}
