package grow

import "testing"

func TestNearName(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		a, b string
		want bool
	}{
		{"R1", "R-1", true}, {"run 44", "Run44", true}, {"black pearl", "black perl", true}, {"oak", "oaks", true}, {"room 2 > rack 3", "room 2 > rak 3", true}, {"beech", "bench", true},
		{"R-1", "R-1", false}, {"R-44", "R-45", false}, {"R-4", "R-44", false}, {"S-1", "R-1", false}, {"S-311", "C-311", false}, {"oak", "elm", false}, {"", "", false}, {"?", "!", false}, {"beech", "birch", false},
	} {
		if got := NearName(test.a, test.b); got != test.want || NearName(test.b, test.a) != got {
			t.Errorf("%q and %q: %t, want %t", test.a, test.b, got, test.want)
		}
	}
}
