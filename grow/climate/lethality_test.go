package climate_test

import (
	"math"
	"testing"
	"time"

	"bagmark/grow/climate"
)

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// minutes makes readings from pairs of minute and °C.
func minutes(pairs ...float64) []climate.Point {
	var out []climate.Point
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, climate.Point{At: start.Add(time.Duration(pairs[i] * float64(time.Minute))), C: pairs[i+1]})
	}
	return out
}

func near(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %v, want %v ± %v", name, got, want, tolerance)
	}
}

func soak(t *testing.T, points []climate.Point, holdC float64, longest time.Duration) climate.Soaked {
	t.Helper()
	s, err := climate.Soak(points, holdC, longest)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestLethality: 10^((T - 121.1)/10), the definition of dairy science and of the
// canning trade. The rates were computed independently (Python); the two lines of
// 15 minutes stand in an industrial technical note on F0, which rounds the
// reference to 121 and so prints 1.5 and 15.
func TestLethality(t *testing.T) {
	t.Parallel()
	for c, want := range map[float64]float64{
		95: .00245, 98: .00490, 100: .00776, 105: .02455, 110: .07762, 115: .24547, 118: .48978,
		120: .77625, 121: .97724, 121.1: 1, 122: 1.23027, 124: 1.94984, 131.1: 10,
	} {
		near(t, "rate", climate.Lethality(c), want, 5.1e-6)
	}
	for c, want := range map[float64]float64{98: 204.2, 100: 128.8, 105: 40.7, 110: 12.9, 115: 4.07} {
		near(t, "minutes for F0 1", 1/climate.Lethality(c), want, .051)
	}
}

// TestF0OfARun checks whole runs. All figures were computed independently
// (Python); the profile is invented. The trapezoid of the rates would give 72.23
// for it: straight lines of temperature give less, and less is true.
func TestF0OfARun(t *testing.T) {
	t.Parallel()
	profile := minutes(0, 20, 15, 60, 30, 88, 45, 100, 60, 108, 75, 114, 90, 118, 105, 120, 120, 120.8, 135, 121, 150, 121, 165, 117, 180, 104, 195, 92)
	for _, c := range []struct {
		name      string
		points    []climate.Point
		want, tol float64
	}{
		{"15 min at 111", minutes(0, 111, 15, 111), 1.466, .0006},
		{"15 min at 121", minutes(0, 121, 15, 121), 14.659, .0006},
		{"profile", profile, 69.39, .006},
		{"12 h at 98", minutes(0, 98, 720, 98), 3.53, .006},
		{"8 h at 100", minutes(0, 100, 480, 100), 3.73, .006},
		{"16 h at 100", minutes(0, 100, 960, 100), 7.45, .006},
		{"18 h at 95", minutes(0, 95, 1080, 95), 2.65, .006},
		{"2.5 h at 121", minutes(0, 121, 150, 121), 146.6, .06},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := soak(t, c.points, 121, 24*time.Hour)
			near(t, "F0", s.F0, c.want, c.tol)
			near(t, "F0 bridged", s.F0Bridged, s.F0, 1e-12)
		})
	}
	var trapezoid float64
	for i := 1; i < len(profile); i++ {
		step := profile[i].At.Sub(profile[i-1].At).Minutes()
		trapezoid += step * (climate.Lethality(profile[i].C) + climate.Lethality(profile[i-1].C)) / 2
	}
	near(t, "trapezoid", trapezoid, 72.23, .006)
}

// TestF0DoesNotDependOnTheStep: reading a straight line more often changes
// nothing.
func TestF0DoesNotDependOnTheStep(t *testing.T) {
	t.Parallel()
	coarse := soak(t, minutes(0, 90, 60, 121, 90, 121), 121, time.Hour)
	var fine []climate.Point
	for m := 0.0; m <= 90; m++ {
		fine = append(fine, minutes(m, min(121, 90+31*m/60))...)
	}
	near(t, "F0", soak(t, fine, 121, time.Hour).F0, coarse.F0, 1e-9)
}

func TestHold(t *testing.T) {
	t.Parallel()
	run := minutes(0, 20, 30, 100, 40, 120, 50, 122, 60, 120, 70, 122, 80, 122, 90, 102, 100, 82)
	s := soak(t, run, 121, time.Hour)
	near(t, "come-up", s.ComeUp.Minutes(), 45, 1e-6)
	near(t, "held", s.Held.Minutes(), 10+15.5, 1e-6) // 45 to 55, 65 to 80.5
	near(t, "unbroken", s.Unbroken.Minutes(), 15.5, 1e-6)
	near(t, "cooling", s.Cooling.Minutes(), 19.5, 1e-6)
	near(t, "highest", s.Highest, 122, 0)
	near(t, "lowest while held", s.LowestHeld, 120, 0)
	if s.Readings != 9 || !s.Whole() || !s.Reached.Equal(start.Add(45*time.Minute)) {
		t.Errorf("got %+v", s)
	}
	never := soak(t, run, 125, time.Hour)
	if never.Reached != nil || never.Held != 0 || never.Cooling != 0 || never.Unbroken != 0 {
		t.Errorf("125 °C was never reached, got %+v", never)
	}
	flat := soak(t, minutes(0, 121, 10, 121), 121, time.Hour)
	near(t, "flat", flat.Held.Minutes(), 10, 0)
}

// TestGapsAreNeverBridged: an hour without readings inside the hold adds nothing
// to what is certain, and is named.
func TestGapsAreNeverBridged(t *testing.T) {
	t.Parallel()
	run := minutes(0, 121, 10, 121, 70, 121, 80, 121)
	s := soak(t, run, 121, 15*time.Minute)
	near(t, "F0", s.F0, 20*climate.Lethality(121), 1e-9)
	near(t, "F0 bridged", s.F0Bridged, 80*climate.Lethality(121), 1e-9)
	near(t, "held", s.Held.Minutes(), 20, 1e-9)
	near(t, "unbroken", s.Unbroken.Minutes(), 10, 1e-9)
	if len(s.Gaps) != 1 || s.Whole() || s.Gaps[0].Length() != time.Hour || !s.Gaps[0].From.Equal(start.Add(10*time.Minute)) {
		t.Errorf("gaps = %v", s.Gaps)
	}
	lone := soak(t, minutes(0, 121, 60, 80, 70, 80), 121, 15*time.Minute)
	if lone.Reached == nil || lone.Held != 0 || lone.F0 > 0.01 {
		t.Errorf("a lone reading counts as reached, for no time: %+v", lone)
	}
}

func TestSoakTakesReadingsAsTheyCome(t *testing.T) {
	t.Parallel()
	want := soak(t, minutes(0, 100, 5, 110, 10, 120), 121, time.Hour)
	got := soak(t, minutes(10, 120, 0, 100, 5, 110, 5, 115, 0, 100), 121, time.Hour) // of two at minute 5 the colder stays
	near(t, "F0", got.F0, want.F0, 0)
	if got.Readings != 3 {
		t.Errorf("readings = %d, want 3", got.Readings)
	}
	if _, err := climate.Soak(minutes(0, math.NaN()), 121, time.Hour); err == nil {
		t.Error("not a number was taken for a temperature")
	}
	if _, err := climate.Soak(minutes(0, 4000), 121, time.Hour); err == nil {
		t.Error("4000 °C was taken for a temperature")
	}
	if empty := soak(t, nil, 121, time.Hour); empty.F0 != 0 || empty.Readings != 0 || !empty.Whole() {
		t.Errorf("no readings gave %+v", empty)
	}
}

func TestLongestStep(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		points []climate.Point
		want   time.Duration
	}{
		{"none", nil, 5 * time.Minute},
		{"each quarter by hand", minutes(0, 20, 15, 60, 30, 88, 45, 100), 45 * time.Minute},
		{"a logger with one long silence", minutes(0, 20, 1, 21, 2, 22, 62, 100, 63, 101), 5 * time.Minute},
		{"out of order", minutes(30, 88, 0, 20, 15, 60), 45 * time.Minute},
	} {
		if got := climate.LongestStep(c.points); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// BenchmarkSoak: a logger's file of 20,000 readings.
func BenchmarkSoak(b *testing.B) {
	points := make([]climate.Point, 20000)
	for i := range points {
		points[i] = climate.Point{At: start.Add(time.Duration(i) * time.Second), C: 100 + 21*math.Sin(float64(i)/6400)}
	}
	for b.Loop() {
		if _, err := climate.Soak(points, 121, time.Minute); err != nil {
			b.Fatal(err)
		}
	}
}
