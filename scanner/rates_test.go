package scanner

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"bagmark/grow"
)

// The full measurement takes many minutes: go test -run TestRates -rates -v
var (
	ratesOn    = flag.Bool("rates", false, "measure read rates over all conditions")
	ratesSeed  = flag.Uint64("rates-seed", 1, "first seed of the pictures")
	ratesShots = flag.Int("rates-shots", 25, "pictures a condition")
	ratesOnly  = flag.String("rates-only", "", "comma-separated conditions; all if empty")
	ratesPeers = flag.Bool("rates-peers", false, "also measure the readers of peers_test.go")
	ratesKnown = flag.Int("rates-known", 5000, "known codes; 0 for none")
	ratesDump  = flag.String("rates-dump", "", "directory for pictures that were not read")
)

// tally counts one condition.
type tally struct {
	labels, certain, matched, wrongCertain, wrongMatched int
	peers                                                [len(peers)]int // labels each of them read
	times                                                []float64
	slowest                                              string // picture
}

// knownFarm is a farm of n labels, the picture's own among them.
func knownFarm(n int, truths []truth) func(context.Context) (Known, error) {
	if n == 0 {
		return nil
	}
	random := rand.New(rand.NewPCG(77, 77))
	known := Known{Addresses: farmAddresses}
	for range n {
		known.Labels = append(known.Labels, Reference{grow.BagCode, drawCode(random)})
	}
	for i, tr := range truths {
		known.Labels[i*17%n].Code = tr.code
	}
	return func(context.Context) (Known, error) { return known, nil }
}

func (y *tally) score(t *testing.T, r *Reader, s shot, name string) {
	t.Helper()
	opts := Options{Known: knownFarm(*ratesKnown, s.truths)}
	start := cpuTime()
	res, err := r.Read(t.Context(), s.data, opts)
	if err != nil {
		t.Fatal(err)
	}
	y.took(cpuTime()-start, name)
	y.labels += len(s.truths)
	all := true
	for _, tr := range s.truths {
		i := slices.IndexFunc(res.Found, func(f Found) bool { return f.Text == tr.text })
		switch {
		case i < 0:
			all = false
		case res.Found[i].Certain:
			y.certain++
		default:
			y.matched++
		}
	}
	for _, f := range res.Found {
		if !slices.ContainsFunc(s.truths, func(tr truth) bool { return tr.text == f.Text }) {
			t.Logf("%s: wrong read %+v", name, f)
			if f.Certain {
				y.wrongCertain++
			} else {
				y.wrongMatched++
			}
		}
	}
	if !all && *ratesDump != "" {
		if err := os.WriteFile(filepath.Join(*ratesDump, name+".jpg"), s.data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if *ratesPeers {
		for i, p := range peers {
			if p.there() {
				y.peers[i] += countRead(s.truths, p.read(t, s.data))
			}
		}
	}
}

// cpuTime is the processor time this process has used, in milliseconds; unlike the
// clock it does not depend on what else the machine does.
func cpuTime() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}

// took notes the time of one picture.
func (y *tally) took(ms float64, name string) {
	if len(y.times) == 0 || ms > slices.Max(y.times) {
		y.slowest = name
	}
	y.times = append(y.times, ms)
}

func (y *tally) line(name string) string {
	percent := func(n int) float64 { return 100 * float64(n) / float64(max(1, y.labels)) }
	var others strings.Builder
	for i, p := range peers {
		if *ratesPeers && p.there() {
			fmt.Fprintf(&others, "  %s %5.1f", p.name, percent(y.peers[i]))
		}
	}
	times := slices.Sorted(slices.Values(y.times))
	return fmt.Sprintf("%-10s %4d  certain %5.1f  with matched %5.1f%s  wrong %d + %d  median %6.1f ms CPU, 90 %% %6.1f, most %6.1f (%s)",
		name, y.labels, percent(y.certain), percent(y.certain+y.matched), others.String(), y.wrongCertain, y.wrongMatched,
		times[len(times)/2], times[len(times)*9/10], times[len(times)-1], y.slowest)
}

func (y *tally) plus(o tally) {
	y.labels, y.certain, y.matched = y.labels+o.labels, y.certain+o.certain, y.matched+o.matched
	y.wrongCertain, y.wrongMatched = y.wrongCertain+o.wrongCertain, y.wrongMatched+o.wrongMatched
	for i := range y.peers {
		y.peers[i] += o.peers[i]
	}
	if len(y.times) == 0 || slices.Max(o.times) > slices.Max(y.times) {
		y.slowest = o.slowest
	}
	y.times = append(y.times, o.times...)
}

func TestRates(t *testing.T) {
	if !*ratesOn {
		t.Skip("measures for many minutes: run with -rates")
	}
	for _, p := range peers {
		if *ratesPeers && !p.there() {
			t.Logf("%s is left out: %s is not installed", p.name, p.program)
		}
	}
	measure(t, "frames", frameConditions, *ratesShots, frame)
	measure(t, "wide", wideConditions, (*ratesShots+7)/8, wide)
	measureEmpty(t)
}

func measure(t *testing.T, group string, conditions []string, shots int, take func(testing.TB, string, uint64) shot) {
	var sum tally
	r := NewReader(0)
	for _, condition := range conditions {
		if *ratesOnly != "" && !slices.Contains(strings.Split(*ratesOnly, ","), condition) {
			continue
		}
		var y tally
		for i := range shots {
			seed := *ratesSeed*100_000 + uint64(i)
			y.score(t, r, cached(t, condition, seed, take), fmt.Sprintf("%s-%d", strings.ReplaceAll(condition, " ", "-"), seed))
		}
		t.Log(y.line(condition))
		sum.plus(y)
	}
	if sum.labels > 0 {
		t.Log(sum.line("ALL " + group))
	}
}

func measureEmpty(t *testing.T) {
	if *ratesOnly != "" && !strings.Contains(*ratesOnly, "empty") {
		return
	}
	r, foreign := NewReader(0), 0
	opts := Options{Known: knownFarm(*ratesKnown, nil)}
	kinds := make([]tally, len(emptyKinds))
	for i := range *ratesShots * 80 {
		seed := *ratesSeed*100_000 + uint64(i)
		s, at := cached(t, "empty", seed, empty), seed%uint64(len(emptyKinds))
		start := cpuTime()
		res, err := r.Read(t.Context(), s.data, opts)
		if err != nil {
			t.Fatal(err)
		}
		y := &kinds[at]
		y.took(cpuTime()-start, fmt.Sprint("empty-", seed))
		for _, f := range res.Found {
			switch {
			case !f.Certain:
				y.wrongMatched++
			case f.Kind == grow.BagCode && emptyKinds[at] != "stranger":
				y.wrongCertain++
			default:
				foreign++
				continue
			}
			t.Logf("%s %d: found %+v", emptyKinds[at], i, f)
		}
	}
	var sum tally
	for i := range kinds {
		t.Log(kinds[i].line(emptyKinds[i]))
		sum.plus(kinds[i])
	}
	t.Logf("%s; %d foreign symbols read", sum.line("ALL empty"), foreign)
}

// cached keeps drawn pictures between runs in $SCANNER_SHOTS, if that is set:
// drawing takes longer than reading.
func cached(t *testing.T, condition string, seed uint64, take func(testing.TB, string, uint64) shot) shot {
	t.Helper()
	dir := os.Getenv("SCANNER_SHOTS")
	if dir == "" {
		return take(t, condition, seed)
	}
	name := filepath.Join(dir, fmt.Sprintf("%s-%d", strings.ReplaceAll(condition, " ", "-"), seed))
	data, err := os.ReadFile(name + ".jpg")
	lines, err2 := os.ReadFile(name + ".txt")
	if err == nil && err2 == nil {
		s := shot{condition: condition, data: data}
		for line := range strings.Lines(string(lines)) {
			var tr truth
			fmt.Sscan(line, &tr.code, &tr.text, &tr.corners[0].X, &tr.corners[0].Y, &tr.corners[1].X, &tr.corners[1].Y, &tr.corners[2].X, &tr.corners[2].Y, &tr.corners[3].X, &tr.corners[3].Y)
			s.truths = append(s.truths, tr)
		}
		return s
	}
	s := take(t, condition, seed)
	var b bytes.Buffer
	for _, tr := range s.truths {
		c := tr.corners
		fmt.Fprintln(&b, tr.code, tr.text, c[0].X, c[0].Y, c[1].X, c[1].Y, c[2].X, c[2].Y, c[3].X, c[3].Y)
	}
	if err := os.WriteFile(name+".jpg", s.data, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name+".txt", b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return s
}
