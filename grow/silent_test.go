package grow

import "testing"

// TestSilent: that the bags of one jar all fail to start, while it could be
// seen, is common practice's sign of weak or dead spawn. The lines are ours.
func TestSilent(t *testing.T) {
	t.Parallel()
	jar := JarBags{Name: "S-31 jar 4", Bags: 6, Looked: 6, Sisters: 2, Day: 4, FirstSign: 3, Over: 24}
	for _, c := range []struct {
		name   string
		change func(*JarBags)
		want   bool
	}{
		{"six looked at, none started", func(*JarBags) {}, true},
		{"one has started", func(j *JarBags) { j.Started = 1 }, false},
		{"too few to say", func(j *JarBags) { j.Bags, j.Looked = 2, 2 }, false},
		{"hardly looked at", func(j *JarBags) { j.Looked = 2 }, false},
		{"half looked at", func(j *JarBags) { j.Looked = 3 }, true},
		{"nobody says of any bag that it has started", func(j *JarBags) { j.Sisters = 0 }, false},
		{"half said to be bare", func(j *JarBags) { j.Sisters, j.Looked, j.Bare = 0, 0, 3 }, true},
		{"one said to be bare", func(j *JarBags) { j.Sisters, j.Bare = 0, 1 }, false},
		{"too early to see", func(j *JarBags) { j.Day = 2 }, false},
		{"long past", func(j *JarBags) { j.Day = 25 }, false},
	} {
		j := jar
		c.change(&j)
		if got := j.Silent(); got != c.want {
			t.Errorf("%s: %t, want %t", c.name, got, c.want)
		}
	}
	if got, want := jar.Words(), "None of 6 bags from S-31 jar 4 has started by day 4."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
