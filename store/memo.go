package store

import (
	"fmt"
	"slices"
	"sync"

	"bagmark/grow/trace"
)

// memo keeps what was worked out from records as long as the records
// themselves are kept: columns over all bags, and answers to questions.
type memo struct {
	mu      sync.Mutex
	columns map[string]trace.Column
	bags    []trace.Bag
	chances *trace.Estimator
	answers map[string]any
}

// mostAnswers bounds what is kept.
const mostAnswers = 64

// remember gives the answer under a key, working it out if it is not kept. What
// it gives is shared: treat it as read-only.
func remember[T any](r *records, key string, answer func() T) T {
	if kept, ok := recall[T](r, key); ok {
		return kept
	}
	fresh := answer()
	r.memo.mu.Lock()
	defer r.memo.mu.Unlock()
	if r.memo.answers == nil || len(r.memo.answers) >= mostAnswers {
		r.memo.answers = map[string]any{}
	}
	r.memo.answers[key] = fresh
	return fresh
}

// recall gives the answer kept under a key, if it is.
func recall[T any](r *records, key string) (kept T, ok bool) {
	r.memo.mu.Lock()
	defer r.memo.mu.Unlock()
	kept, ok = r.memo.answers[key].(T)
	return kept, ok
}

// all tells whether bags are all bags of the farm.
func (r *records) all(bags []bagRecord) bool {
	return len(bags) == len(r.bags) && (len(bags) == 0 || &bags[0] == &r.bags[0])
}

// column is one condition, or one field of the batch, over the bags picked.
func (r *records) column(f *Farm, key string, bags []bagRecord) trace.Column {
	if !r.all(bags) {
		return r.makeColumn(f, key, bags)
	}
	r.memo.mu.Lock()
	defer r.memo.mu.Unlock()
	c, ok := r.memo.columns[key]
	if !ok {
		c = r.makeColumn(f, key, bags)
		if r.memo.columns == nil {
			r.memo.columns = map[string]trace.Column{}
		}
		r.memo.columns[key] = c
	}
	return c
}

// traceBags are the bags picked as package trace knows them.
func (r *records) traceBags(bags []bagRecord) []trace.Bag {
	if !r.all(bags) {
		return makeTraceBags(bags)
	}
	r.memo.mu.Lock()
	defer r.memo.mu.Unlock()
	if r.memo.bags == nil {
		r.memo.bags = makeTraceBags(bags)
	}
	return r.memo.bags
}

// estimator is what the risk of every bag of the farm is made from.
func (r *records) estimator() *trace.Estimator {
	bags := r.traceBags(r.bags)
	r.memo.mu.Lock()
	defer r.memo.mu.Unlock()
	if r.memo.chances == nil {
		r.memo.chances = trace.NewEstimator(bags)
	}
	return r.memo.chances
}

func makeTraceBags(bags []bagRecord) []trace.Bag {
	out := make([]trace.Bag, len(bags))
	for i, g := range bags {
		out[i] = g.bag
	}
	return out
}

// key tells questions apart.
func (q ContaminationQuery) key() string {
	day := func(d interface{ String() string }, there bool) string {
		if !there {
			return ""
		}
		return d.String()
	}
	return fmt.Sprintf("%q %q %q %s %s", q.By, q.Species, q.Batch, day(q.From, q.From != nil), day(q.To, q.To != nil))
}

// rowsFor are the rows that a bag's trace shows, the same for all bags whose
// batches share their fields.
func (r *records) rowsFor(f *Farm, columns []trace.Column) []trace.Row {
	key := fmt.Sprintf("trace %g", f.Margin)
	for _, c := range columns {
		key += fmt.Sprintf(" %s=%q", c.Key, c.Only)
	}
	rows := remember(r, key, func() []trace.Row { return trace.Compare(r.traceBags(r.bags), columns, f.Margin) })
	return slices.Clone(rows)
}
