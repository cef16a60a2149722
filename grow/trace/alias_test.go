package trace

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestFindAliases(t *testing.T) {
	t.Parallel()
	a, b := []float64{1, 1, 0, 0, 0, 0}, []float64{0, 0, 1, 0, 0, 0}
	tests := []struct {
		name    string
		columns [][]float64
		want    Aliases
	}{
		{"none", [][]float64{a, b}, Aliases{Rank: 3}},
		{"opposite", [][]float64{a, {0, 0, 1, 1, 1, 1}}, Aliases{Rank: 2, Identical: [][]int{{0, 1}}}},
		{"sum", [][]float64{a, b, {1, 1, 1, 0, 0, 0}}, Aliases{Rank: 3, Sums: []Sum{{2, []int{0, 1}}}}},
		{"the rest", [][]float64{a, b, {0, 0, 0, 1, 1, 1}}, Aliases{Rank: 3, Sums: []Sum{{2, []int{0, 1}}}}},
		{"constant", [][]float64{a, {1, 1, 1, 1, 1, 1}}, Aliases{Rank: 2, Constant: []int{1}}},
		{"no columns", nil, Aliases{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(tt.want, FindAliases(tt.columns)); diff != "" {
				t.Error(diff)
			}
		})
	}
}
