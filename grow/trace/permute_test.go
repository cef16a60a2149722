package trace

import "testing"

// A condition with two values is one question: whichever is asked about, the same p, also where it is drawn at random.
func TestPermuteAsksTheSameBothWays(t *testing.T) {
	t.Parallel()
	var batches []Batch
	for k := range 40 {
		species := "king"
		if k%3 == 0 {
			species = "oyster"
		}
		batches = append(batches, Batch{Counts{float64(k * k % 11), 16}, k%2 == 0, species})
	}
	for _, less := range []int{0, 2, 5} { // as many of both kinds, fewer of one, fewer of the other
		bs := append([]Batch{}, batches...)
		for i := range less {
			bs[6*i].Exposed = false
		}
		one, other := Permute(bs), Permute(others(bs))
		if !one.Sampled {
			t.Fatal("few enough to try all")
		}
		if one.P != other.P || one.Upper != other.Lower || one.Lower != other.Upper || one.Difference != -other.Difference {
			t.Errorf("%+v, asked the other way %+v", one, other)
		}
	}
}
