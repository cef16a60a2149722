package grow

import (
	"slices"
	"strconv"
	"strings"
)

// ParseBagRange reads bag numbers like 1-5,9 for a batch of so many bags, at
// most [MostBags]. The numbers come back in order, each once.
func ParseBagRange(text string, bags int) ([]int, error) {
	bags = max(0, min(bags, MostBags))
	in := make([]bool, bags+1)
	for part := range strings.SplitSeq(text, ",") {
		part = strings.TrimSpace(part)
		from, to, span := strings.Cut(part, "-")
		low, err := bagNumber(from, part, bags)
		if err != nil {
			return nil, err
		}
		high := low
		if span {
			if high, err = bagNumber(to, part, bags); err != nil {
				return nil, err
			}
		}
		if high < low {
			return nil, Errorf(Invalid, "%q runs backwards: write it %d-%d", part, high, low)
		}
		for n := low; n <= high; n++ {
			in[n] = true
		}
	}
	var out []int
	for n, yes := range in {
		if yes {
			out = append(out, n)
		}
	}
	return out, nil
}

func bagNumber(text, part string, bags int) (int, error) {
	text = strings.TrimSpace(text)
	n, err := strconv.Atoi(text)
	if err != nil || text == "" || text[0] == '+' {
		return 0, Errorf(Invalid, "%q is not a range of bags: write it like 1-5,9", part)
	}
	if n < 1 || n > bags {
		return 0, Errorf(Invalid, "there is no bag %d: the bags are 1 to %d", n, bags)
	}
	return n, nil
}

// BagRange writes bag numbers in the short form that [ParseBagRange] reads.
func BagRange(numbers []int) string {
	sorted := slices.Clone(numbers)
	slices.Sort(sorted)
	sorted = slices.Compact(sorted)
	var parts []string
	for i := 0; i < len(sorted); {
		j := i
		for j+1 < len(sorted) && sorted[j+1] == sorted[j]+1 {
			j++
		}
		part := strconv.Itoa(sorted[i])
		if j > i {
			part += "-" + strconv.Itoa(sorted[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ",")
}
