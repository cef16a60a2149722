package scanner

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"bagmark/grow"
)

// series is what a live camera sees of one label: the hand moves a little, light,
// blur and noise change, the label and what is wrong with it do not. With change
// above zero another label of the same farm takes its place after so many frames.
func series(t testing.TB, condition string, seed uint64, frames, change int) (shots []shot) {
	random := rand.New(rand.NewPCG(seed, uint64(condition[0])))
	s := newScene(640, 480, random)
	k := s.newTake(t, condition)
	k.noise *= 1.5
	for i := range frames {
		if change > 0 && i == change {
			k = s.relabelled(t, k)
		}
		f := k
		f.pose.origin = f.pose.origin.plus(f.pose.ex, s.between(-1.5, 1.5)).plus(f.pose.ey, s.between(-1.5, 1.5))
		f.pose.focal *= s.between(0.97, 1.03)
		f.soft *= s.between(0.9, 1.15)
		f.moved *= s.between(0.8, 1.2)
		f.white *= s.between(0.9, 1)
		view := newScene(640, 480, random)
		shots = append(shots, view.expose(f))
	}
	return shots
}

// relabelled is a take of another label of the same farm and size.
func (s *scene) relabelled(t testing.TB, k take) take {
	other := *k.p
	before := k.text[:len(k.text)-len(k.code)]
	for {
		k.code = drawCode(s.random)
		k.text = before + string(k.code)
		if p := s.newPrint(t, k.text); p.n == other.n {
			other.dark = p.dark
			k.p = &other
			return k
		}
	}
}

// filmTally counts series that were read.
type filmTally struct{ series, single, certain, tracked, trackedCertain, wrong int }

// film reads a series twice, frame by frame and with a tracker. A read is wrong
// if it is not the label of that very frame.
func (y *filmTally) film(t *testing.T, r *Reader, shots []shot) {
	t.Helper()
	var known []truth
	for _, s := range shots {
		if !slices.ContainsFunc(known, func(tr truth) bool { return tr.code == s.truths[0].code }) {
			known = append(known, s.truths[0])
		}
	}
	opts := Options{Known: knownFarm(2000, known)}
	var tracker Tracker
	var single, certain, tracked, trackedCertain bool
	for i, s := range shots {
		for _, with := range []*Tracker{nil, &tracker} {
			opts.Tracker = with
			res, err := r.Read(t.Context(), s.data, opts)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range res.Found {
				switch {
				case f.Text != s.truths[0].text:
					t.Errorf("frame %d of %s, tracked %t: %+v is not %s", i, s.condition, with != nil, f, s.truths[0].text)
					y.wrong++
				case with == nil:
					single, certain = true, certain || f.Certain
				default:
					tracked, trackedCertain = true, trackedCertain || f.Certain
				}
			}
		}
	}
	count := func(n *int, ok bool) {
		if ok {
			*n++
		}
	}
	y.series++
	count(&y.single, single)
	count(&y.certain, certain)
	count(&y.tracked, tracked)
	count(&y.trackedCertain, trackedCertain)
}

func (y filmTally) String() string {
	return fmt.Sprintf("%d series: read by some frame alone %d (%d certain), with the tracker %d (%d certain), wrong %d", y.series, y.single, y.certain, y.tracked, y.trackedCertain, y.wrong)
}

var filmConditions = []string{"cylinder", "wrinkles", "glare", "torn", "defocus", "motion", "dim", "mixed"}

// TestFilms measures series of eight frames: go test -run TestFilms -rates -v
func TestFilms(t *testing.T) {
	if !*ratesOn {
		t.Skip("measures for many minutes: run with -rates")
	}
	r := NewReader(0)
	var all, changed filmTally
	for _, condition := range filmConditions {
		var y filmTally
		for i := range *ratesShots {
			seed := *ratesSeed*100_000 + uint64(i)
			y.film(t, r, series(t, condition, seed, 8, 0))
			changed.film(t, r, series(t, condition, seed+50_000, 8, 4))
		}
		t.Logf("%-10s %s", condition, y)
		all.series, all.single, all.certain = all.series+y.series, all.single+y.single, all.certain+y.certain
		all.tracked, all.trackedCertain, all.wrong = all.tracked+y.tracked, all.trackedCertain+y.trackedCertain, all.wrong+y.wrong
	}
	t.Logf("%-10s %s", "ALL", all)
	t.Logf("%-10s %s", "changed", changed)
}

// noisyView is a look at a code's symbol through noise.
func noisyView(t *testing.T, random *rand.Rand, m *matcher, address grow.Address, code grow.Code, noise, shift float64) view {
	t.Helper()
	s, _ := noisyStream(t, random, address, code, noise)
	for i := range m.sheets {
		if f := m.sheets[i].form; f.coding == s.coding {
			if c := f.commonScore(&s); c >= prefixScore {
				return view{form: f, stream: s, common: c, corners: quad{{100 + shift, 100}, {200 + shift, 100}, {200 + shift, 200}, {100 + shift, 200}}}
			}
		}
	}
	return view{}
}

// TestTracker: a label too noisy in each frame is read from several; another label
// that takes its place is never taken for it, nor the two mixed.
func TestTracker(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(21, 22))
	address := farmAddresses[1]
	codes := make([]grow.Code, 1000)
	for i := range codes {
		codes[i] = drawCode(random)
	}
	m := sheetsOf(t, address, codes)
	alone, together := 0, 0
	const tries = 40
	for i := range tries {
		var tracker Tracker
		here, read := codes[i*3], false
		for n := range 12 {
			if n == 6 {
				here = codes[i*3+1]
			}
			v := noisyView(t, random, m, address, here, 1.9, float64(4*n))
			s := &search{pyramid: []gray{newGray(1, 1)}, matcher: m, budget: budgetOf(1, 1)}
			if v.form != nil {
				s.views = []view{v}
				for k := range m.sheets {
					if got := m.sheets[k].compare(v.stream, s.budget); got.match.sure() || got.text != "" {
						alone++
					}
				}
			}
			tracker.add(s)
			for _, f := range s.found {
				if f.text != address.Payload(grow.BagCode, here) {
					t.Errorf("series %d, frame %d: %s is not %s", i, n, f.text, here)
				}
				read = true
			}
		}
		if read {
			together++
		}
	}
	t.Logf("%d single looks of %d were enough, %d series of %d", alone, 12*tries, together, tries)
	if together < tries*3/4 || alone > tries {
		t.Errorf("%d of %d series were read, %d single looks: the tracker adds nothing", together, tries, alone)
	}
}
