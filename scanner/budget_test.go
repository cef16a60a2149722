package scanner

import (
	"math"
	"testing"
)

// TestWorkIsBounded: pictures full of what looks like finders cost no more than
// the budget and the step that was under way when it ran out.
func TestWorkIsBounded(t *testing.T) {
	t.Parallel()
	tiles := paper(640, 480, 220)
	for y := range 480 {
		for x := range 640 {
			d := max(math.Abs(float64(x%32)-15.5), math.Abs(float64(y%32)-15.5))
			if d < 4.5 || d > 7.5 && d < 10.5 {
				tiles.row(y)[x] = 30
			}
		}
	}
	for _, tt := range []struct {
		name string
		data []byte
		most float64 // of the budget
		must bool    // it is nearly spent
	}{
		{"a wall of finders", encodeJPEG(t, tiles.image()), 1.15, true},
		{"squares", empty(t, "empty", 100_012).data, 1.15, true},
		{"a plain label", frame(t, "plain", 4).data, 0.2, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			picture, err := OpenPicture(tt.data)
			if err != nil {
				t.Fatal(err)
			}
			var spent [2]float64
			for i := range spent { // twice: the work must not depend on anything but the picture
				s := newSearch(t.Context(), luminance(picture.Image), Options{Known: knownFarm(500, nil)}, &book{})
				whole := s.budget.left
				if err := s.run(); err != nil {
					t.Fatal(err)
				}
				spent[i] = float64(whole-s.budget.left) / float64(whole)
			}
			t.Logf("%.3f of the budget", spent[0])
			if spent[0] > tt.most {
				t.Errorf("spent %.2f of the budget, at most %.2f", spent[0], tt.most)
			}
			if tt.must && spent[0] < 0.5 {
				t.Errorf("spent %.2f of the budget: the picture is too easy for this test", spent[0])
			}
			if spent[0] != spent[1] {
				t.Errorf("spent %v of the budget, then %v", spent[0], spent[1])
			}
		})
	}
}
