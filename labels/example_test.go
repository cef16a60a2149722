package labels_test

import (
	"fmt"

	"bagmark/labels"
)

func ExampleJob_PDF() {
	sheet, _ := labels.SheetByName("a4-3x7-63.5x38.1")
	job := labels.Job{
		Sheet: sheet,
		Labels: []labels.Label{{
			Payload: "http://192.168.1.20:8080/B/7K3M9QXR",
			Code:    "7K3M 9QXR",
			Name:    "KING", Species: "King oyster",
			Date: "14 MAR", Weekday: "Sat", Number: "7/12",
			Departures: []string{"HOOD OFF"},
			PenBoxes:   []string{"HOOD", "GLOVES", "SHAKEN"},
		}},
		Start:  20, // the sheet has two labels left
		Copies: 3,
	}
	pdf, err := job.PDF()
	fmt.Println(job.Pages(), len(pdf) > 0, err)
	// Output: 2 true <nil>
}

func ExampleNewSymbol() {
	symbol, err := labels.NewSymbol("http://192.168.1.20:8080/B/7K3M9QXR")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(symbol.Version, symbol.Level, symbol.Modules, symbol.Side(), symbol.Dark(0, 0))
	// Output: 3 Q 29 37 true
}
