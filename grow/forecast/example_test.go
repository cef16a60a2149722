package forecast_test

import (
	"fmt"
	"time"

	"bagmark/grow/forecast"
)

// King oyster from published days, sharpened by one finished batch; one bag was 40 in 100 white on day 10.
func ExampleLaw_Bag() {
	made := time.Date(2026, time.November, 22, 15, 0, 0, 0, time.UTC)
	history := forecast.History{{{Left: 12, Right: 15}, {Left: 15, Right: 18}, {Left: 15, Right: 18}}}
	law := forecast.FromRange(12, 24).Learn(history)
	bag := forecast.Bag{Span: forecast.Running(10), Reading: &forecast.Reading{Day: 10, Share: 0.4}, Today: 11}
	f := law.Bag(bag, nil)
	fmt.Println(f.Words(made, 0)[0])
	fmt.Println(forecast.ReadyWords(f.Colonised.Ready(forecast.RipeningFrom(3, 10)), made))
	// Output:
	// Colonised about 12 December, likely 9 to 15 December (from 1 of your batches).
	// Ready about 18 December, likely 12 to 25 December.
}
