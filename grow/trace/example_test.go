package trace_test

import (
	"fmt"

	"bagmark/grow/trace"
)

// A batch of 24 whose bags 7 to 11 were made with the flow hood off; four of these and one other were found
// contaminated by day 20.
func ExampleCompare() {
	hood := trace.Column{Key: "flow_hood", Label: "flow hood", Level: trace.BagLevel, Normal: "on"}
	var bags []trace.Bag
	for n := 1; n <= 24; n++ {
		b := trace.Bag{Batch: "K-12", Number: n, Species: "king", Horizon: 20, Age: 22, LastSeen: trace.On(21)}
		value := "on"
		if n >= 7 && n <= 11 {
			value = "off"
		}
		if n >= 7 && n <= 10 || n == 20 {
			b.Contaminated = trace.On(9)
		}
		bags = append(bags, b)
		hood.Values = append(hood.Values, trace.Exposure{Value: value})
	}
	for _, row := range trace.Compare(bags, []trace.Column{hood}, trace.DefaultMargin) {
		fmt.Println(row.Words)
	}
	// Output: Points to flow hood off: 4 of 5 against 1 of 19 in the same batch (difference 75 in 100, 95 % range 28 to 92). A record, not a proof. Bags 7-11 were also made one after another: the order at the bench could be the reason as well.
}
