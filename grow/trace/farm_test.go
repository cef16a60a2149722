package trace

import "fmt"

// An invented farm for tests: batches of one species judged on day 20.
type farm struct {
	bags    []Bag
	hood    Column
	lot     Column
	shaken  Column
	horizon int
}

func newFarm() *farm {
	return &farm{
		horizon: 20,
		hood:    Column{Key: "flow_hood", Label: "flow hood", Level: BagLevel, Normal: "on"},
		lot:     Column{Key: "spawn_lot", Label: "spawn lot", Level: BatchLevel},
		shaken:  Column{Key: "shaken", Label: "shaken", Level: BagLevel, Normal: "yes"},
	}
}

// batch adds n bags of age 30 that were all seen on day 25; the numbers in off had the hood off, those in bad were
// contaminated on day 9.
func (f *farm) batch(n int, lot string, off, bad []int) *farm {
	name := fmt.Sprintf("B%d", len(f.bags))
	for k := 1; k <= n; k++ {
		b := Bag{Code: fmt.Sprintf("%s-%d", name, k), Batch: name, Number: k, Species: "king", Horizon: f.horizon, Age: 30, LastSeen: On(25)}
		hood := "on"
		for _, x := range off {
			if x == k {
				hood = "off"
			}
		}
		for _, x := range bad {
			if x == k {
				b.Contaminated = On(9)
			}
		}
		f.bags = append(f.bags, b)
		f.hood.Values = append(f.hood.Values, Exposure{Value: hood})
		f.lot.Values = append(f.lot.Values, Exposure{Value: lot})
		f.shaken.Values = append(f.shaken.Values, Exposure{Value: "yes"})
	}
	return f
}

func (f *farm) columns() []Column { return []Column{f.hood, f.lot, f.shaken} }

// upTo lists from..to.
func upTo(from, to int) []int {
	var out []int
	for k := from; k <= to; k++ {
		out = append(out, k)
	}
	return out
}
