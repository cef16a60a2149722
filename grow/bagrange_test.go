package grow_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParseBagRange(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		bags       int
		want       []int
	}{
		{"one", "3", 5, []int{3}},
		{"span and one", "1-5,9", 12, []int{1, 2, 3, 4, 5, 9}},
		{"out of order and twice", "9,1-3,2-4", 12, []int{1, 2, 3, 4, 9}},
		{"spaces", " 1 - 2 , 4 ", 4, []int{1, 2, 4}},
		{"span of one", "4-4", 4, []int{4}},
		{"the largest batch", "1999-2000", 2000, []int{1999, 2000}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			got, err := grow.ParseBagRange(test.text, test.bags)
			if diff := cmp.Diff(test.want, got); err != nil || diff != "" {
				t.Errorf("%v; numbers (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestParseBagRangeRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		bags       int
	}{
		{"nothing", "", 5}, {"only a comma", ",", 5}, {"comma behind", "1,", 5}, {"nought", "0", 5}, {"one too many", "6", 5},
		{"span too long", "1-6", 5}, {"backwards", "3-1", 5}, {"negative", "-1", 5}, {"two hyphens", "1--3", 5}, {"plus", "+1", 5},
		{"half open", "1-", 5}, {"words", "all", 5}, {"fraction", "1.5", 5}, {"digits of another script", "٣", 5},
		{"far too large", "99999999999999999999", 5}, {"no bags", "1", 0}, {"fewer than no bags", "1", -7}, {"more bags than can be", "2001", math.MaxInt},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if got, err := grow.ParseBagRange(test.text, test.bags); err == nil || grow.KindOf(err) != grow.Invalid {
				t.Errorf("ParseBagRange(%q, %d) = %v, %v; want it refused", test.text, test.bags, got, err)
			}
		})
	}
}

// TestBagRangeReadsBack: any set of numbers written in short is read back.
func TestBagRangeReadsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		bags := rapid.IntRange(1, 60).Draw(t, "bags")
		numbers := rapid.SliceOfN(rapid.IntRange(1, bags), 1, 40).Draw(t, "numbers")
		text := grow.BagRange(numbers)
		want := slices.Compact(slices.Sorted(slices.Values(numbers)))
		got, err := grow.ParseBagRange(text, bags)
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("%v is written %q and read back %v, %v", numbers, text, got, err)
		}
		if len(want) == want[len(want)-1]-want[0]+1 && strings.Contains(text, ",") {
			t.Fatalf("%v is one stretch, but written %q", want, text)
		}
	})
}

func FuzzParseBagRange(f *testing.F) {
	f.Add("1-5,9", 12)
	f.Add("2000-1", -1)
	f.Add(" 7 , 7-7", 1<<40)
	f.Fuzz(func(t *testing.T, text string, bags int) {
		got, err := grow.ParseBagRange(text, bags)
		if err != nil {
			return
		}
		if len(got) == 0 || !slices.IsSorted(got) || got[0] < 1 || got[len(got)-1] > bags {
			t.Fatalf("ParseBagRange(%q, %d) = %v", text, bags, got)
		}
		if again, err := grow.ParseBagRange(grow.BagRange(got), bags); err != nil || !slices.Equal(got, again) {
			t.Fatalf("%v is read back %v, %v", got, again, err)
		}
	})
}
