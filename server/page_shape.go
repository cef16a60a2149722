package server

import (
	"fmt"
	"math"
	"strings"

	"bagmark/grow"
)

// shape is how a bag is drawn and what it is called: a state never shows by
// colour alone, it has a word and a shape of its own. Layers name drawings of
// the page's sprite, the lowest first.
type shape struct {
	Layers []string
	Share  int    // of a growing bag, 0-100; drawn from the bottom
	Full   bool   // its middle is filled: a number on it is in paper
	Gone   bool   // no longer in care
	Word   string // "growing, 40 %, late"
}

// bagFacts is what decides about a bag's shape.
type bagFacts struct {
	State       grow.State
	Pct         *float64
	Mouldy      bool
	Late, Ready bool
	Ripening    bool // its kind needs days from grown over to ready
	Watched     bool
}

// shapeOf draws a bag.
func shapeOf(f bagFacts) shape {
	s := baseShape(f)
	words := []string{s.Word}
	if f.Late && !f.State.Out() {
		s.Layers, words = append(s.Layers, "late"), append(words, "late")
	}
	if f.Watched && !f.Mouldy && !f.State.Out() {
		s.Layers, words = append(s.Layers, "watch"), append(words, "watch")
	}
	if f.Mouldy {
		s.Layers, words = append(s.Layers, "mould"), append([]string{"mould"}, words...)
	}
	s.Word = strings.Join(words, ", ")
	return s
}

func baseShape(f bagFacts) shape {
	switch {
	case f.State == grow.Culled:
		return shape{Layers: []string{"out"}, Gone: true, Word: "out"}
	case f.State == grow.Finished:
		return shape{Layers: []string{"finished"}, Gone: true, Word: "finished"}
	case f.State == grow.Isolated:
		return shape{Layers: []string{"apart"}, Word: "apart"}
	case f.State == grow.Fruiting:
		return shape{Layers: []string{"fruiting"}, Full: true, Word: "fruiting"}
	case f.State == grow.Unmarked:
		return shape{Layers: []string{"unmarked"}, Word: "unmarked"}
	case f.State == grow.Colonised && f.Ready:
		return shape{Layers: []string{"ready"}, Full: true, Word: "ready"}
	case f.State == grow.Colonised && f.Ripening:
		return shape{Layers: []string{"ripening"}, Full: true, Word: "ripening"}
	case f.State == grow.Colonised:
		return shape{Layers: []string{"grown"}, Full: true, Word: "grown over"}
	case f.Pct != nil:
		share := int(math.Round(*f.Pct))
		return shape{Layers: []string{"growing"}, Share: share, Word: fmt.Sprintf("growing, %d %%", share)}
	}
	return shape{Layers: []string{"growing"}, Word: "growing"}
}

// stateWords are the states as a grower says them.
var stateWords = map[grow.State]string{
	grow.Unmarked: "unmarked", grow.Colonising: "growing", grow.Colonised: "grown over", grow.Isolated: "apart", grow.Fruiting: "fruiting",
	grow.Finished: "finished", grow.Culled: "out",
}

// Growing tells whether a share is drawn.
func (s shape) Growing() bool { return s.Layers[0] == "growing" && s.Share > 0 }

// Height is the drawn share's in the box of 44 units, whose outline runs from 1
// to 43.
func (s shape) Height() string { return fmt.Sprintf("%.1f", 42*float64(s.Share)/100) }

// Top is where the drawn share begins.
func (s shape) Top() string { return fmt.Sprintf("%.1f", 43-42*float64(s.Share)/100) }

// legend are the drawings that are present, each once.
func legend(shapes []shape) []shape {
	var out []shape
	seen := map[string]bool{}
	for _, s := range shapes {
		for i, layer := range s.Layers {
			if seen[layer] {
				continue
			}
			seen[layer] = true
			one := shape{Layers: []string{layer}, Word: layerWords[layer]}
			if layer == "growing" {
				one.Share = 40
			}
			if i > 0 {
				one.Layers = []string{"unmarked-box", layer}
			}
			out = append(out, one)
		}
	}
	return out
}

var layerWords = map[string]string{
	"out": "out", "finished": "finished", "apart": "apart", "fruiting": "fruiting", "unmarked": "unmarked", "ready": "ready",
	"ripening": "ripening", "grown": "grown over", "growing": "growing, to its share", "late": "late or slow for its kind",
	"watch": "on watch", "differs": "something was different", "mould": "mould or wrong",
}
