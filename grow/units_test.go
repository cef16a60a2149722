package grow_test

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"bagmark/grow"
)

var (
	metric   = grow.UnitsOf("metric")
	imperial = grow.UnitsOf("imperial")
)

// TestFactors holds the factors to NIST Special Publication 811 (2008), appendix
// B.8: pound (avoirdupois) 4.535 924 E-01 kg, exactly 0.453 592 37 kg by footnote
// 22; ounce (avoirdupois) 2.834 952 E-02 kg; 1 lb = 16 oz.
func TestFactors(t *testing.T) {
	t.Parallel()
	if grow.GramsPerPound != 453.59237 || 16*grow.GramsPerOunce != grow.GramsPerPound {
		t.Errorf("a pound has %v g and an ounce %v g", grow.GramsPerPound, grow.GramsPerOunce)
	}
}

// TestTemperatures are the fixed points of the two scales: 1.8 t + 32 (NIST SP 811,
// B.8); the two meet at 40 below nothing.
func TestTemperatures(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ c, f float64 }{{-40, -40}, {0, 32}, {22, 71.6}, {37, 98.6}, {100, 212}, {121.1, 249.98}} {
		if got := imperial.TempTyped(x.c); got != strconv.FormatFloat(x.f, 'f', -1, 64) {
			t.Errorf("%v °C is written %s °F, want %v", x.c, got, x.f)
		}
		if got := imperial.TempC(x.f); math.Abs(got-x.c) > 1e-9 {
			t.Errorf("%v °F is read as %v °C, want %v", x.f, got, x.c)
		}
	}
	for got, want := range map[string]string{
		metric.TempWords(22): "22.0 °C", imperial.TempWords(22): "71.6 °F", metric.TempDifference(1): "1", imperial.TempDifference(1): "1.8",
		imperial.TempDifference(-2.5): "-4.5", metric.Temp(-0.01): "0.0", imperial.Temp(-17.8): "0.0", metric.TempTyped(22.25): "22.25"} {
		if got != want {
			t.Errorf("wrote %q, want %q", got, want)
		}
	}
}

// TestTemperaturesComeBack types every tenth of a degree that a room or a steriliser
// may have, in both units: what is kept as whole ten-thousandths comes back as typed,
// and a tenth of the other unit leads back to the same tenth of a degree Celsius.
func TestTemperaturesComeBack(t *testing.T) {
	t.Parallel()
	for n := -600; n <= 6000; n++ { // 60 below nothing to 600
		typed := float64(n) / 10
		for _, u := range []grow.Units{metric, imperial} {
			c := u.TempC(typed)
			kept := *grow.Unscaled(grow.Scaled(&c))
			if kept != c || u.Temp(kept) != fmt.Sprintf("%.1f", typed) || u.TempTyped(kept) != strconv.FormatFloat(typed, 'f', -1, 64) {
				t.Fatalf("%v %s is kept as %v, written %s and %s", typed, u.DegreeSign(), kept, u.Temp(kept), u.TempTyped(kept))
			}
		}
		shown, err := strconv.ParseFloat(imperial.Temp(typed), 64)
		if err != nil || metric.Temp(imperial.TempC(shown)) != fmt.Sprintf("%.1f", typed) {
			t.Fatalf("%v °C shows as %v °F, which is read as %v °C", typed, shown, imperial.TempC(shown))
		}
	}
	for n := -6000; n <= 60000; n++ { // a form that comes back untouched
		kept := float64(n) / 100
		for _, u := range []grow.Units{metric, imperial} {
			if shown, err := strconv.ParseFloat(u.TempTyped(kept), 64); err != nil || u.TempC(shown) != kept {
				t.Fatalf("%v °C came back untouched as %v", kept, u.TempC(shown))
			}
		}
	}
}

// TestMassesComeBack types every hundredth of an ounce and of a pound up to the most
// that a harvest may be, 100 kg, and every pound and tenth of an ounce: what comes
// back is what was typed.
func TestMassesComeBack(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		scale grow.Scale
		most  int
	}{{grow.Kitchen, 352739}, {grow.Bucket, 22046}} {
		for n := range x.most + 1 {
			typed := strconv.FormatFloat(float64(n)/100, 'f', -1, 64)
			g, err := imperial.Grams(typed, x.scale)
			if err != nil || g > 100_000 || math.Round(g*100)/100 != g {
				t.Fatalf("%s %s is %v g: %v", typed, imperial.Unit(x.scale), g, err)
			}
			if got := imperial.MassTyped(g, x.scale); got != typed {
				t.Fatalf("%s %s is %v g and comes back as %s", typed, imperial.Unit(x.scale), g, got)
			}
		}
	}
	for pounds := range 220 {
		for tenths := range 160 {
			typed := fmt.Sprintf("%d lb %s oz", pounds, strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64))
			want := typed
			switch {
			case pounds == 0:
				want = fmt.Sprintf("%s oz", strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64))
			case tenths == 0:
				want = fmt.Sprintf("%d lb", pounds)
			}
			if g, err := imperial.Grams(typed, grow.Kitchen); err != nil || imperial.Weighed(g) != want {
				t.Fatalf("%s comes back as %s (%v)", typed, imperial.Weighed(g), err)
			}
		}
	}
}

// TestTares: what the scale shows less the tare, each typed to a tenth of an ounce,
// is what somebody would work out by head.
func TestTares(t *testing.T) {
	t.Parallel()
	for gross := range 1600 {
		for tare := range 60 {
			a, _ := imperial.Grams(fmt.Sprintf("%.1f", float64(gross)/10), grow.Kitchen)
			b, _ := imperial.Grams(fmt.Sprintf("%.1f", float64(tare)/10), grow.Kitchen)
			net := math.Round((a-b)*100) / 100
			if want := strconv.FormatFloat(float64(gross-tare)/10, 'f', -1, 64); imperial.MassTyped(net, grow.Kitchen) != want {
				t.Fatalf("%d less %d tenths of an ounce is %s", gross, tare, imperial.MassTyped(net, grow.Kitchen))
			}
		}
	}
}

// TestGramsComeBackUntouched shows every tenth of a gram to an imperial farm, in the
// fields of both scales: what comes back untouched is what was kept.
func TestGramsComeBackUntouched(t *testing.T) {
	t.Parallel()
	for n := range 100_000 {
		kept := float64(n) / 10
		for _, scale := range []grow.Scale{grow.Kitchen, grow.Bucket} {
			if g, err := imperial.Grams(imperial.MassTyped(kept, scale), scale, kept); err != nil || g != kept {
				t.Fatalf("%v g came back as %v (%v)", kept, g, err)
			}
		}
	}
}

func TestMassWords(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ got, want string }{
		{metric.Mass(812.4), "812 g"}, {metric.Mass(12345), "12.3 kg"}, {metric.Weighed(812.4), "812.4 g"}, {metric.Bulk(812.4), "812 g"}, {metric.Bulk(12345), "12.35 kg"},
		{imperial.Mass(0), "0 oz"}, {imperial.Mass(100), "3.5 oz"}, {imperial.Mass(453.5), "1 lb"}, {imperial.Mass(1000), "2 lb 3.3 oz"}, {imperial.Mass(12345), "27.2 lb"},
		{imperial.Weighed(992.23), "2 lb 3 oz"}, {imperial.Weighed(-100), "-3.53 oz"}, {imperial.Bulk(100), "3.5 oz"}, {imperial.Bulk(12345), "27.22 lb"},
		{metric.Small(81.6), "82"}, {imperial.Small(81.6), "2.9"}, {metric.Unit(grow.Bucket), "g"}, {imperial.Unit(grow.Bucket), "lb"}, {imperial.Unit(grow.Kitchen), "oz"},
		{imperial.MassTyped(2267.96, grow.Bucket), "5"}, {imperial.MassTyped(87.88, grow.Bucket), "3.1 oz"}, {imperial.MassTyped(2500, grow.Bucket), "5 lb 8.18 oz"}} {
		if x.got != x.want {
			t.Errorf("wrote %q, want %q", x.got, x.want)
		}
	}
}

func TestTypedMasses(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		u     grow.Units
		typed string
		scale grow.Scale
		want  float64 // below nothing: refused
	}{
		{metric, "500", grow.Kitchen, 500}, {metric, "1,5 kg", grow.Bucket, 1500}, {metric, "2 lb", grow.Bucket, 907.18}, {metric, "12.345", grow.Kitchen, 12.345},
		{imperial, "500 g", grow.Kitchen, 500}, {imperial, "3", grow.Kitchen, 85.05}, {imperial, "5", grow.Bucket, 2267.96}, {imperial, "80oz", grow.Bucket, 2267.96},
		{imperial, "2LB 3.1", grow.Kitchen, 995.07}, {imperial, "2 lbs 3.1 oz", grow.Bucket, 995.07},
		{imperial, "1.234", grow.Kitchen, -1}, {imperial, "2 lb 16 oz", grow.Kitchen, -1}, {imperial, "2 oz 1 lb", grow.Kitchen, -1}, {imperial, "lb", grow.Kitchen, -1},
		{imperial, "2 stone", grow.Kitchen, -1}, {imperial, "1e3", grow.Kitchen, -1}, {imperial, "", grow.Kitchen, -1}, {metric, "?", grow.Kitchen, -1}, {imperial, "1 lb 2 oz 3", grow.Kitchen, -1},
		{imperial, "2 kg 3 oz", grow.Kitchen, -1}} {
		g, err := x.u.Grams(x.typed, x.scale)
		if (err != nil) != (x.want < 0) || err == nil && math.Abs(g-x.want) > 1e-9 {
			t.Errorf("%q is %v g (%v), want %v", x.typed, g, err, x.want)
		}
	}
}

// TestClock writes noon and midnight as is usual where clocks have twelve hours: 12 am
// is midnight.
func TestClock(t *testing.T) {
	t.Parallel()
	twelve := grow.Units{Clock: grow.Hours12}
	for _, x := range []struct {
		hour, minute int
		want         string
	}{{0, 5, "12:05 am"}, {9, 30, "9:30 am"}, {12, 0, "12:00 pm"}, {14, 5, "2:05 pm"}, {23, 59, "11:59 pm"}} {
		at := time.Date(2026, 3, 14, x.hour, x.minute, 7, 0, time.UTC)
		if got := twelve.Time(at); got != x.want {
			t.Errorf("%v is written %q, want %q", at, got, x.want)
		}
		if got, want := (grow.Units{}).Time(at), fmt.Sprintf("%02d:%02d", x.hour, x.minute); got != want {
			t.Errorf("%v is written %q, want %q", at, got, want)
		}
	}
	at := time.Date(2026, 3, 14, 14, 5, 7, 0, time.UTC)
	for got, want := range map[string]string{twelve.DayTime(at): "Sat 14 Mar 2:05 pm", metric.DayTime(at): "Sat 14 Mar 14:05", twelve.TimeSeconds(at): "2:05:07 pm", metric.TimeSeconds(at): "14:05:07"} {
		if got != want {
			t.Errorf("wrote %q, want %q", got, want)
		}
	}
}

// TestWeeksStart walks through four years. From Monday the weeks are those of ISO
// 8601, as the standard library counts them.
func TestWeeksStart(t *testing.T) {
	t.Parallel()
	for start, day := range map[grow.WeekStart]time.Weekday{"": time.Monday, grow.FromMonday: time.Monday, grow.FromSunday: time.Sunday, grow.FromSaturday: time.Saturday} {
		u := grow.Units{WeekStarts: start}
		for d := grow.DateOn(2024, 1, 1); d < grow.DateOn(2028, 1, 1); d++ {
			first := u.WeekStartOf(d)
			if first > d || d-first > 6 || first.Time().Weekday() != day {
				t.Fatalf("the week of %v starts on %v", d, first)
			}
			y, w := d.Time().ISOWeek()
			fy, fw := first.Time().ISOWeek()
			if day == time.Monday && (y != fy || w != fw) {
				t.Fatalf("%v is in week %d of %d, its Monday %v in %d of %d", d, w, y, first, fw, fy)
			}
		}
	}
}

func TestUnitsAreChecked(t *testing.T) {
	t.Parallel()
	var p grow.Problems
	metric.Check(&p)
	imperial.Check(&p)
	if len(p) > 0 {
		t.Errorf("the usual units are refused: %v", p)
	}
	(grow.Units{Temperature: "k", Weight: "stone", Paper: "a5", Clock: "10", WeekStarts: "friday"}).Check(&p)
	if len(p) != 5 {
		t.Errorf("of five faults named: %v", p)
	}
}

// TestProse: figures inside sentences; by 1.8 t + 32 and 0.453 592 37 kg a pound.
func TestProse(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ text, want string }{
		{"cool is under 30 °C", "cool is under 86 °F"},
		{"it grows fastest near 31 °C and still at 40 °C.", "it grows fastest near 88 °F and still at 104 °F."},
		{"must be -40 to 85 °C: is it in Fahrenheit?", "must be -40 to 185 °F"},
		{"minutes at 121.1 °C; 0 is no target", "minutes at 250 °F; 0 is no target"},
		{"A rack full of 2 to 3 kg bags weighs hundreds of kilograms.", "A rack full of 4.4 to 6.6 lb bags weighs hundreds of pounds."},
		{"must be more than 0 and at most 100000 grams", "must be more than 0 and at most 220.5 lb"},
		{"12 good bags, 3 groups", "12 good bags, 3 groups"},
	} {
		if got := imperial.Prose(x.text); got != x.want {
			t.Errorf("%q became %q, want %q", x.text, got, x.want)
		}
		if got := metric.Prose(x.text); got != x.text {
			t.Errorf("%q became %q for a metric farm", x.text, got)
		}
	}
	if got := (grow.Units{Temperature: grow.Fahrenheit}).Prose("2 kg at 20 °C"); got != "2 kg at 68 °F" {
		t.Errorf("wrote %q", got)
	}
}
