package store

import (
	"fmt"
	"runtime"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// statisticsFarm is a farm of so many batches of 25 bags, made over so many days
// and all but the newest long finished, written straight into the tables: five
// bags of every fourth batch had the flow hood off, and one bag in ten went bad,
// three in ten of those.
func statisticsFarm(b *testing.B, batches, days int) *labFarm {
	b.Helper()
	f := newLabFarm(b)
	f.days(float64(days))
	farm, err := f.Farm(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	err = f.writing(b.Context(), func(t *tx) error {
		g := generator{t: t, farm: farm, from: t.now.AddDate(0, 0, -days)}
		for k := range batches {
			if err := g.batch(k, g.from.Add(time.Duration(k)*(time.Duration(days)*24*time.Hour/time.Duration(batches)))); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	f.forgetFarm()
	return f
}

type generator struct {
	t    *tx
	farm *Farm
	from time.Time
	bags int
}

func (g *generator) batch(k int, made time.Time) error {
	species := []string{"pleurotus-eryngii", "pleurotus-ostreatus", "hericium-erinaceus", "lentinula-edodes"}[k%4]
	row, err := g.t.insert(`INSERT INTO batches (code, species, inoculated_at, bags, strain, recipe, made_at, made_by, made_device) VALUES (?, ?, ?, 25, ?, ?, ?, 'Ana', 'phone')`,
		fmt.Sprintf("BENCH-%06d", k), species, micros(made), fmt.Sprintf("strain %d", k%7), fmt.Sprintf("recipe %d", k%3), micros(made))
	if err != nil {
		return err
	}
	for _, key := range g.farm.Conditions.Keys() {
		if c := g.farm.Conditions[key]; c.Normal != nil {
			if _, err := g.t.exec(`INSERT INTO batch_conditions (batch_id, key, value) VALUES (?, ?, ?)`, row, key, *c.Normal); err != nil {
				return err
			}
		}
	}
	for n := 1; n <= 25; n++ {
		if err := g.bag(k, row, n, made); err != nil {
			return err
		}
	}
	return nil
}

// bag is looked at every three days, grown over between day 12 and 33.
func (g *generator) bag(k int, batch int64, n int, made time.Time) error {
	g.bags++
	code := fmt.Sprintf("%08d", g.bags)
	if _, err := g.t.exec(`INSERT INTO codes (code, kind, made_at) VALUES (?, 'bag', 0)`, code); err != nil {
		return err
	}
	id, err := g.t.insert(`INSERT INTO bags (batch_id, number, code, state, status) VALUES (?, ?, ?, 'unmarked', '{}')`, batch, n, code)
	if err != nil {
		return err
	}
	off := k%4 == 0 && n <= 5
	if off {
		if _, err := g.t.exec(`INSERT INTO bag_conditions (bag_id, key, value) VALUES (?, 'flow_hood', 'off')`, id); err != nil {
			return err
		}
	}
	return g.t.saveStatus(id, g.status(off, made))
}

func (g *generator) status(off bool, made time.Time) grow.Status {
	draw := (g.bags * 7919) % 1000
	bad := draw < 100 || off && draw < 300
	grown := 12 + draw%8*3
	at := func(day int) *time.Time { v := made.AddDate(0, 0, day); return &v }
	age := int(g.t.now.Sub(made).Hours() / 24)
	s := grow.Status{State: grow.Colonising, Place: "room 1 > rack 2", MarkedAt: at(0), LabelledAt: at(0), BenchAt: at(0), LastSeenAt: at(min(age, 60)), LastInHandAt: at(min(age, 60)), LastCleanAt: at(min(age, 60)), InHandAfterMark: true}
	day := min(grown-3, age/3*3)
	s.NotYetAt, s.ReadAt, s.ReadPct, s.ColonisedPct = at(day), at(day), new(float64(100*day/grown)), new(float64(100*day/grown))
	if age > grown {
		s.State, s.GrownOverAt = grow.Colonised, at(grown)
	}
	switch {
	case bad && age > 9:
		s.State, s.LastSeenAt, s.LastCleanAt, s.EndedAt, s.EndedWhy, s.GrownOverAt = grow.Culled, at(9), at(6), at(9), "contaminated", nil
		s.Contaminated = &grow.Contamination{What: "green_mould", At: *at(9), ReceivedAt: *at(9)}
	case age > 80:
		s.State, s.EndedAt, s.EndedWhy, s.FruitingAt = grow.Finished, at(80), "spent", at(45)
		s.Picks = []grow.Pick{{At: *at(55), Grams: float64(250 + draw%97), Flush: 1}, {At: *at(70), Grams: float64(80 + draw%41), Flush: 2}}
		s.Grams, s.Flush = s.Picks[0].Grams+s.Picks[1].Grams, 2
	}
	return s
}

// bare is the baseline: summing a column of the same bags in SQL.
func (f *labFarm) bare(b *testing.B) time.Duration {
	start := time.Now()
	err := f.reading(b.Context(), func(t *tx) error {
		var n int
		return t.one(`SELECT sum(length(status)) FROM bags`, nil, &n)
	})
	if err != nil {
		b.Fatal(err)
	}
	return time.Since(start)
}

// measured reports how long something takes beside the baseline.
func measured(b *testing.B, f *labFarm, do func() error) {
	b.Helper()
	if err := do(); err != nil { // warm
		b.Fatal(err)
	}
	var ours, bare time.Duration
	for b.Loop() {
		start := time.Now()
		if err := do(); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		bare += f.bare(b)
	}
	var memory runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&memory)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(memory.HeapAlloc)/(1<<20), "MB-kept")
	b.ReportMetric(float64(ours.Microseconds())/float64(b.N)/1000, "ms")
	b.ReportMetric(float64(bare.Microseconds())/float64(b.N)/1000, "ms-bare")
	b.ReportMetric(float64(ours)/float64(bare), "times-a-bare-scan")
}

// BenchmarkStatistics asks a farm of 100,000 bags in 4,000 batches.
func BenchmarkStatistics(b *testing.B) {
	f := statisticsFarm(b, 4000, 2000)
	var code string
	err := f.reading(b.Context(), func(t *tx) error {
		return t.one(`SELECT code FROM bags WHERE contaminated_at IS NOT NULL ORDER BY id DESC`, nil, &code)
	})
	if err != nil {
		b.Fatal(err)
	}
	unasked := func() { // the records are kept, the answer is not
		f.counts.Lock()
		f.counts.records.memo.answers = nil
		f.counts.Unlock()
	}
	again := func() {}
	contamination := func() error {
		_, err := f.Contamination(b.Context(), ContaminationQuery{By: "flow_hood"})
		return err
	}
	compare := func() error {
		_, err := f.Compare(b.Context(), CompareQuery{By: "flow_hood", Event: trace.EventColonised})
		return err
	}
	traced := func() error {
		_, err := f.Trace(b.Context(), grow.Code(code))
		return err
	}
	if err := contamination(); err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		before func()
		ask    func() error
	}{
		{"contamination", unasked, contamination}, {"contamination-again", again, contamination}, {"compare", unasked, compare}, {"compare-again", again, compare},
		{"trace", unasked, traced}, {"trace-again", again, traced},
		{"trace-after-an-entry", func() { f.counts.changed(1, 1) }, traced}, {"trace-cold", f.counts.forget, traced},
	} {
		b.Run(c.name, func(b *testing.B) {
			measured(b, f, func() error { c.before(); return c.ask() })
		})
	}
}

// BenchmarkToday makes the day's forecasts of 5,000 living bags.
func BenchmarkToday(b *testing.B) {
	f := statisticsFarm(b, 220, 45)
	today, err := f.Today(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d bags in care", today.InCare)
	for name, before := range map[string]func(){"again": func() {}, "after-an-entry": func() { f.counts.changed(1, 1) }, "cold": f.counts.forget} {
		b.Run(name, func(b *testing.B) {
			measured(b, f, func() error {
				before()
				_, err := f.Today(b.Context())
				return err
			})
		})
	}
}
