package labels

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

const tolerance = 0.02 // mm; coordinates are rounded to a thousandth

// checkInk holds a layout to what every layout keeps: all inside the content, no
// words over words, nothing in the symbol's quiet zone.
func checkInk(t testing.TB, k *ink) {
	t.Helper()
	var boxes []area
	for _, m := range k.marks {
		a := area{m.x, m.y, m.w, m.h}
		if m.kind == markText {
			over, under := m.face.reach(m.text)
			a.y -= m.h * (1 + over) // y is the baseline
			a.h = m.h * (1 + over + under)
		}
		if !(a.x >= -tolerance && a.y >= -tolerance && a.x+a.w <= k.w+tolerance && a.y+a.h <= k.h+tolerance) {
			t.Errorf("outside the content of %.2f x %.2f: %+v %q", k.w, k.h, a, m.text)
		}
		if m.white || m.kind == markRule {
			continue // on its block; rules carry captions
		}
		for _, other := range boxes {
			if a.overlaps(other) {
				t.Errorf("%+v %q overlaps %+v\n%s", a, m.text, other, k)
				return
			}
		}
		boxes = append(boxes, a)
	}
}

func (a area) overlaps(b area) bool {
	return a.x+a.w > b.x+tolerance && b.x+b.w > a.x+tolerance && a.y+a.h > b.y+tolerance && b.y+b.h > a.y+tolerance
}

// texts are the words of a layout in drawing order, without spaces.
func (k *ink) texts() string {
	var b strings.Builder
	for _, m := range k.marks {
		b.WriteString(m.text)
		b.WriteString("|")
	}
	return b.String()
}

// joined is for words that may have been broken into lines.
func joined(text string) string {
	return strings.NewReplacer("|", "", " ", "").Replace(text)
}

func mustLayout(t testing.TB, l Label, s Sheet, dpi int) *ink {
	t.Helper()
	k, err := layout(l, s, dpi)
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	return k
}

// TestEveryLabelOnEveryStock checks what no label may lack.
func TestEveryLabelOnEveryStock(t *testing.T) {
	t.Parallel()
	for _, s := range Sheets() {
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			for _, l := range append(sampleBags(20), sampleOthers()...) {
				k := mustLayout(t, l, s, (Job{Sheet: s}).dpi())
				checkInk(t, k)
				printed := joined(k.texts())
				for _, word := range append([]string{l.Code, l.Name, l.Date, l.Number}, l.Departures...) {
					if !strings.Contains(printed, joined(loadFaces().bold.clean(word))) {
						t.Errorf("%q is not on the label:\n%s", word, k)
					}
				}
				if (l.Payload != "") != (k.symbol != nil) {
					t.Errorf("payload %q, symbol %v", l.Payload, k.symbol)
				}
			}
		})
	}
}

// TestHierarchy measures the label of 38.1 mm against the heights that distances ask
// for: 1/200 of 1 m and more for name, date and departures, 3.5 mm at arm's length.
func TestHierarchy(t *testing.T) {
	t.Parallel()
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	for n := range 3 {
		l := sampleLabel(n)
		k := mustLayout(t, l, s, laserDPI)
		for _, c := range []struct {
			word        string
			least, most float64
		}{{l.Name, 7, 8.2}, {l.Date, 5, 6}, {l.Number, 3.7, 4.2}, {l.Code, 3.3, 3.6}} {
			i := slices.IndexFunc(k.marks, func(m mark) bool { return m.text == c.word })
			if i < 0 {
				t.Errorf("label %d: no %q", n, c.word)
			} else if got := k.marks[i].h; got < c.least || got > c.most {
				t.Errorf("label %d: %q is %.2f mm high, want %.1f to %.1f", n, c.word, got, c.least, c.most)
			}
		}
		for _, m := range k.marks {
			if m.kind == markBlock && m.h < 4 {
				t.Errorf("label %d: a departure's block is %.2f mm high, want 4 or more", n, m.h)
			}
		}
	}
}

// TestManyDeparturesOnTheSmallestStock: six of the longest still stand, none cut.
func TestManyDeparturesOnTheSmallestStock(t *testing.T) {
	t.Parallel()
	s, _ := SheetByName("a4-5x13-38.1x21.2")
	l := sampleLabel(0)
	l.Departures = []string{"HOOD OFF", "NO GLOVES", "NOT SHAKEN", "SEAL TOO COOL", "NEW SPAWN LOT", "ALCOHOL SPRAYED"}
	k := mustLayout(t, l, s, laserDPI)
	checkInk(t, k)
	for _, m := range k.marks {
		if strings.HasSuffix(m.text, ellipsis) {
			t.Errorf("%q was cut", m.text)
		}
		if m.white && m.h < 1 {
			t.Errorf("%q is %.2f mm high", m.text, m.h)
		}
	}
}

// TestOrderOfDropping makes a label lower and lower: what falls out stays out, in
// the documented order.
func TestOrderOfDropping(t *testing.T) {
	t.Parallel()
	l := sampleLabel(2)
	order := []string{"hunt from", "King oyster", l.Batch, "HOOD", l.Strain, l.Weekday}
	lost := 0
	for height := 60.0; height >= 19; height-- {
		k := &ink{w: 34, h: height, dot: 0.01} // no symbol: one column
		words := l.cleaned(60)
		words.Departures = []string{"NOT SHAKEN"}
		compose(k, words)
		printed := k.texts()
		for i, word := range order {
			if gone := !strings.Contains(printed, word); gone && i > lost {
				t.Errorf("at %.0f mm %q fell out before %q:\n%s", height, word, order[lost], k)
			} else if gone && i == lost {
				lost++
			}
		}
	}
	if lost != len(order) {
		t.Errorf("%d of %d words fell out on the way", lost, len(order))
	}
}

// TestModuleSizes holds the choice to the table of sizes in common use, in
// millimetres: the nearest whole number of dots.
func TestModuleSizes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		sheet  string
		module float64
	}{
		{"a4-3x7-63.5x38.1", 0.75}, {"a4-3x8-63.5x33.9", 0.75}, {"a4-2x7-99.1x38.1", 0.875},
		{"letter-3x10-66.7x25.4", 0.625}, {"a4-4x10-48.5x25.4", 0.625}, {"a4-4x12-45.7x21.2", 0.5},
		{"a4-5x13-38.1x21.2", 0.5}, {"roll-57x32", 0.75}, {"roll-50x30", 0.75}, {"roll-100x50", 1.25}, {"roll-102x152", 2},
	} {
		s, ok := SheetByName(c.sheet)
		if !ok {
			t.Fatalf("no sheet %s", c.sheet)
		}
		l := sampleLabel(0)
		l.Payload = "http://10.0.0.5/B/7K3M9QXR" // version 2
		for _, dpi := range []int{203, 300, 600} {
			k := mustLayout(t, l, s, dpi)
			dots := k.module / mmPerInch * float64(dpi)
			if math.Abs(dots-math.Round(dots)) > 1e-9 || dots < 4-1e-9 {
				t.Errorf("%s at %d dpi: a module of %.3f dots", c.sheet, dpi, dots)
			}
			if math.Abs(k.module-c.module) > mmPerInch/float64(dpi)/2 {
				t.Errorf("%s at %d dpi: module %.3f mm, want %.3f to the nearest dot", c.sheet, dpi, k.module, c.module)
			}
		}
	}
}

// TestLongAddresses: what is too fine for a label is refused in words.
func TestLongAddresses(t *testing.T) {
	t.Parallel()
	small, _ := SheetByName("a4-5x13-38.1x21.2")
	l := sampleLabel(0)
	l.Payload = "https://" + strings.Repeat("A", 150) + "/B/7K3M9QXR"
	if _, err := layout(l, small, laserDPI); err == nil {
		t.Error("a symbol of modules under 0.4 mm was printed")
	}
	large, _ := SheetByName("roll-102x152")
	if _, err := layout(l, large, rollDPI); err != nil {
		t.Errorf("the same symbol on a large label: %v", err)
	}
}

func TestGoldenLayouts(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"a4-3x7-63.5x38.1", "a4-5x13-38.1x21.2", "a4-3x8-70x37", "letter-3x10-66.7x25.4", "roll-57x32", "roll-102x152"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, _ := SheetByName(name)
			var b strings.Builder
			for i, l := range append(sampleBags(5), sampleOthers()...) {
				fmt.Fprintf(&b, "%d: %s\n", i+1, mustLayout(t, l, s, (Job{Sheet: s}).dpi()))
			}
			golden(t, "layout-"+name+".txt", b.String())
		})
	}
}
