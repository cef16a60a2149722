package labels

import (
	"fmt"
	"strings"
)

// An invented farm's bags, over every length that matters.
var (
	sampleNames = [][3]string{ // short name, full name, strain
		{"KING", "King oyster", "KE-3 Pohjola"},
		{"LION", "Lion's mane", "LM-1"},
		{"ENOKI", "Enoki, velvet shank", "EN-7 a very long strain name from the north"},
		{"OYSTER", "Grey oyster", "しいたけ 🍄 нить"},
	}
	sampleDepartures = [][]string{
		nil,
		{"HOOD OFF"},
		{"NOT SHAKEN", "HOOD OFF"},
		{"HOOD OFF", "NO GLOVES", "NOT SHAKEN", "SEAL TOO COOL", "NEW SPAWN LOT"},
		{"HOOD OFF", "NO GLOVES", "NOT SHAKEN", "SEAL TOO COOL", "NEW SPAWN LOT", "WWWWWWWWWWWWWW"},
	}
)

func samplePayload(n int) string {
	return "http://192.168.1.20:8080/B/" + sampleCode(n)
}

// sampleCode gives each number another code of eight characters.
func sampleCode(n int) string {
	code := []byte("7K3M0000")
	for at := 7; n > 0; at-- {
		code[at] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"[n%32]
		n /= 32
	}
	return string(code)
}

func sampleLabel(n int) Label {
	words := sampleNames[n/len(sampleDepartures)%len(sampleNames)]
	code := sampleCode(n)
	return Label{
		Payload: samplePayload(n), Code: code[:4] + " " + code[4:],
		Name: words[0], Species: words[1], Strain: words[2],
		Date: "14 MAR", Weekday: "Sat", Number: fmt.Sprintf("%d/%d", n%120+1, 120), Batch: words[0] + "-0314",
		Departures: sampleDepartures[n%len(sampleDepartures)],
		PenBoxes:   []string{"HOOD", "GLOVES", "SHAKEN"},
		Hint:       "hunt from 21 MAR",
	}
}

func sampleBags(n int) []Label {
	bags := make([]Label, n)
	for i := range bags {
		bags[i] = sampleLabel(i)
	}
	return bags
}

// sampleOthers are labels that are not bags.
func sampleOthers() []Label {
	return []Label{
		{Payload: samplePayload(1), Code: "7K3M 0001", Rules: []string{"species", "date", "strain"}},
		{Departures: []string{"HOOD OFF"}},
		{Payload: samplePayload(2), Code: "7K3M 0002", Name: "room\u00a02\u00a0> rack\u00a03\u00a0> shelf\u00a01"},
		{Payload: samplePayload(3), Code: "7K3M 0003", Name: "HOOD OFF", Hint: "Scan once: the bags that follow were made with the hood off."},
		{Payload: samplePayload(4), Code: "7K3M 0004", Name: "SPAWN", Date: "2 MAR", Batch: "RYE-0302", Species: "King oyster", Strain: "KE-3"},
		{Departures: []string{strings.Repeat("W", 14), "A", "B", "C", "D", "E"}},
		{},
	}
}
