package grow_test

import (
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// The whole table of what is said on days 2, 7, 12 and 20 of a fast, a thin and
// a slow species is common practice.
func TestExpectByDay(t *testing.T) {
	t.Parallel()
	const oyster, lion, beech, shiitake = "pleurotus-ostreatus", "hericium-erinaceus", "hypsizygus-marmoreus", "lentinula-edodes"
	hunt := "First hunt. Turn it: bare patches, corners, folds, seal, filter."
	tests := []struct {
		name string
		slug grow.Slug
		in   grow.ExpectInput
		want grow.Expectation
	}{
		{"day 2 fast", oyster, grow.ExpectInput{Day: 2},
			grow.Expectation{Lines: []string{"White fuzz on the grains?"}, Largest: grow.Started, Second: grow.Clean, CleanWord: "Seen, too early"}},
		{"day 2 thin", lion, grow.ExpectInput{Day: 2},
			grow.Expectation{Lines: []string{"Often nothing to see before day 4. Leave it."}, Largest: grow.Clean, Second: grow.Started, CleanWord: "Seen, too early"}},
		{"day 2 slow", beech, grow.ExpectInput{Day: 2},
			grow.Expectation{Lines: []string{"Nothing to see yet.", "First white about day 5."}, Largest: grow.Clean, Second: grow.Started, CleanWord: "Seen, too early"}},
		{"day 7 fast", oyster, grow.ExpectInput{Day: 7, Started: true},
			grow.Expectation{Lines: []string{hunt}, Largest: grow.Clean, Second: grow.MouldOrWrong, CleanWord: "Turned, clean"}},
		{"day 7 thin", lion, grow.ExpectInput{Day: 7},
			grow.Expectation{Lines: []string{hunt, "Thin and grey is normal; torch behind."}, Largest: grow.Clean, Second: grow.MouldOrWrong, CleanWord: "Turned, clean"}},
		{"day 7 slow", shiitake, grow.ExpectInput{Day: 7},
			grow.Expectation{Lines: []string{hunt, "Blisters, brown skin and brown fluid are normal."}, Largest: grow.Clean, Second: grow.MouldOrWrong, CleanWord: "Turned, clean"}},
		{"day 12 fast", oyster, grow.ExpectInput{Day: 12, Turned: true},
			grow.Expectation{Lines: []string{"Should be grown over about now."}, Largest: grow.GrownOver, Second: grow.Clean, CleanWord: "Turned, clean"}},
		{"day 12 thin", lion, grow.ExpectInput{Day: 12, Turned: true},
			grow.Expectation{Lines: []string{"Thin is normal. White knobs at the filter or seam?", "Grown over about day 14."}, Largest: grow.GrownOver, Second: grow.Clean, CleanWord: "Turned, clean"}},
		{"day 12 slow", beech, grow.ExpectInput{Day: 12, Turned: true},
			grow.Expectation{Lines: []string{"Nothing due. Grown over about day 35.", "It looks finished long before it is ripe."}, Largest: grow.Clean, Second: grow.MouldOrWrong, CleanWord: "Turned, clean"}},
		{"day 20 fast, grown over", oyster, grow.ExpectInput{Day: 20, Turned: true, State: grow.Colonised, ColonisedDaysAgo: new(6)},
			grow.Expectation{Lines: []string{"Ready for 6 days. Move today."}, Largest: grow.ToFruiting, Second: grow.Clean, CleanWord: "Clean"}},
		{"day 20 fast, bare and overdue", oyster, grow.ExpectInput{Day: 20, Turned: true, Late: true},
			grow.Expectation{Lines: []string{"Late. Where is it bare?"}, Largest: grow.StillBare, Second: grow.GrownOver, CleanWord: "Turned, clean"}},
		{"day 20 fast, bare but within its forecast", oyster, grow.ExpectInput{Day: 20, Turned: true},
			grow.Expectation{Lines: []string{"Past its usual day 18. Where is it bare?"}, Largest: grow.StillBare, Second: grow.GrownOver, CleanWord: "Turned, clean"}},
		{"day 20 thin", lion, grow.ExpectInput{Day: 20, Turned: true},
			grow.Expectation{Lines: []string{"Near the end of its run. Knobs mean go, white or not."}, Largest: grow.ToFruiting, Second: grow.StillBare, CleanWord: "Turned, clean"}},
		{"slow, ripening", beech, grow.ExpectInput{Day: 46, Turned: true, State: grow.Colonised, ColonisedDaysAgo: new(12)},
			grow.Expectation{Lines: []string{"Ripening, day 12 of about 45.", "It looks finished long before it is ripe."}, Largest: grow.Clean, Second: grow.MouldOrWrong, CleanWord: "Clean"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			test.in.Species = species(t, test.slug)
			if test.in.State == "" {
				test.in.State = grow.Colonising
			}
			if diff := cmp.Diff(test.want, grow.Expect(test.in)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// What is said beside the table (common practice).
func TestExpectOtherwise(t *testing.T) {
	t.Parallel()
	const oyster, king, lion, shiitake, reishi = "pleurotus-ostreatus", "pleurotus-eryngii", "hericium-erinaceus", "lentinula-edodes", "ganoderma-lingzhi"
	tests := []struct {
		name    string
		slug    grow.Slug
		in      grow.ExpectInput
		first   string // beginning of the first line
		second  string // beginning of the second, "" for none
		largest grow.Answer
		word    string
	}{
		{"unmarked", king, grow.ExpectInput{State: grow.Unmarked}, "Is this label on it? Then tap below.", "", grow.NoAnswer, "Clean"},
		{"mouldy", king, grow.ExpectInput{Day: 9, Contaminated: true}, "Keep it closed.", "Take it out today", grow.MouldOrWrong, "Seen, no worse"},
		{"mouldy, on a slow day", king, grow.ExpectInput{Day: 40, Contaminated: true, Late: true}, "Keep it closed.", "Take it out today", grow.MouldOrWrong, "Seen, no worse"},
		{"mouldy, set apart", king, grow.ExpectInput{Day: 9, State: grow.Isolated, Contaminated: true}, "Keep it closed, apart", "Out today if", grow.MouldOrWrong, "Seen, no worse"},
		{"mouldy in fruiting", king, grow.ExpectInput{Day: 30, State: grow.Fruiting, Contaminated: true}, "Open it no further.", "Out of the fruiting room", grow.MouldOrWrong, "Seen, no worse"},
		{"set apart", king, grow.ExpectInput{Day: 9, State: grow.Isolated}, "Set apart.", "", grow.Clean, "Seen, no change"},
		{"culled, mouldy", king, grow.ExpectInput{Day: 9, State: grow.Culled, Contaminated: true}, "Out, closed.", "", grow.NoAnswer, "Clean"},
		{"finished", king, grow.ExpectInput{Day: 60, State: grow.Finished}, "Finished.", "", grow.NoAnswer, "Clean"},
		{"fruiting", king, grow.ExpectInput{Day: 30, State: grow.Fruiting}, "In fruiting. Pins usually within 7 days.", "Look for mould", grow.Clean, "Clean"},
		{"fruiting with pins", king, grow.ExpectInput{Day: 30, State: grow.Fruiting, Pins: true}, "In fruiting, pins seen.", "", grow.Clean, "Clean"},
		{"made today", oyster, grow.ExpectInput{Day: 0}, "Too early to see much.", "", grow.Clean, "Seen, too early"},
		{"started, before the hunt", oyster, grow.ExpectInput{Day: 4, Started: true}, "Growing. First hunt on day 7.", "", grow.Clean, "Clean"},
		{"nothing by day 5", oyster, grow.ExpectInput{Day: 5}, "White fuzz on the grains?", "", grow.Started, "Clean"},
		{"own hunt day", oyster, grow.ExpectInput{Day: 6, FirstHuntDay: 6}, "First hunt.", "", grow.Clean, "Turned, clean"},
		{"hunt missed until it should be grown over", oyster, grow.ExpectInput{Day: 12}, "Should be grown over", "Turn it and look at every side: not done yet.", grow.GrownOver, "Turned, clean"},
		{"hunted, nothing due", oyster, grow.ExpectInput{Day: 8, Turned: true}, "Nothing due. Grown over about day 13.", "", grow.Clean, "Turned, clean"},
		{"forecast before the species", oyster, grow.ExpectInput{Day: 12, Turned: true, GrownOverDue: 16}, "Nothing due. Grown over about day 16.", "", grow.Clean, "Turned, clean"},
		{"not shaken", oyster, grow.ExpectInput{Day: 12, Turned: true, Unshaken: true}, "Should be grown over", "Not shaken: top first. Don't judge it by the top.", grow.GrownOver, "Turned, clean"},
		{"not shaken, past its usual days", lion, grow.ExpectInput{Day: 24, Turned: true, Unshaken: true}, "Past its usual day 22.", "Not shaken: the bottom", grow.StillBare, "Turned, clean"},
		{"not shaken and overdue", oyster, grow.ExpectInput{Day: 24, Turned: true, Unshaken: true, Late: true}, "Late.", "Not shaken: the bottom", grow.StillBare, "Turned, clean"},
		{"knobs asked for when overdue", lion, grow.ExpectInput{Day: 25, Turned: true, Late: true}, "Late.", "White knobs", grow.StillBare, "Turned, clean"},
		{"overdue by its own farm", oyster, grow.ExpectInput{Day: 16, Turned: true, Late: true}, "Late for your own bags.", "", grow.StillBare, "Turned, clean"},
		{"slow by its forecast", oyster, grow.ExpectInput{Day: 9, Turned: true, Slow: true}, "Slower than its own kind", "", grow.Clean, "Turned, clean"},
		{"slow by its forecast, in its window", oyster, grow.ExpectInput{Day: 14, Turned: true, Slow: true}, "Slower than its own kind", "", grow.StillBare, "Turned, clean"},
		{"early in its window", shiitake, grow.ExpectInput{Day: 22, Turned: true}, "May be grown over; about day 28 is usual.", "Blisters", grow.Clean, "Turned, clean"},
		{"lion's mane past its likely day", lion, grow.ExpectInput{Day: 16, Turned: true}, "Thin is normal. White knobs", "Usually grown over by day 22.", grow.GrownOver, "Turned, clean"},
		{"king in its window", king, grow.ExpectInput{Day: 14, Turned: true}, "Thin is normal. Firm yet, or pins at the top?", "Grown over about day 16.", grow.GrownOver, "Turned, clean"},
		{"king near its end", king, grow.ExpectInput{Day: 22, Turned: true}, "Near the end of its run. Where", "Finer and thinner", grow.GrownOver, "Turned, clean"},
		{"knobs before white", lion, grow.ExpectInput{Day: 13, Pins: true}, "Knobs mean go, white or not.", "", grow.ToFruiting, "Clean"},
		{"pins where none were waited for", oyster, grow.ExpectInput{Day: 15, Pins: true, ColonisedDaysAgo: new(2)}, "Pins in the bag already.", "", grow.ToFruiting, "Clean"},
		{"lion's mane white, no knobs", lion, grow.ExpectInput{Day: 16, ColonisedDaysAgo: new(1)}, "Grown over. Knobs are due.", "White knobs", grow.ReadyNow, "Clean"},
		{"pioppino ripening", "cyclocybe-aegerita", grow.ExpectInput{Day: 27, ColonisedDaysAgo: new(3)}, "Ripening, day 3 of about 11.", "Brown patches", grow.Clean, "Clean"},
		{"oyster ready today", oyster, grow.ExpectInput{Day: 13, ColonisedDaysAgo: new(0)}, "Ready. Move today.", "", grow.ToFruiting, "Clean"},
		{"reishi long white", reishi, grow.ExpectInput{Day: 30, ColonisedDaysAgo: new(12)}, "Grown over for 12 days, no pins seen.", "White-tipped", grow.ToFruiting, "Clean"},
		{"king firming up", king, grow.ExpectInput{Day: 18, ColonisedDaysAgo: new(1)}, "Ripening, day 1 of about 7.", "Finer", grow.Clean, "Clean"},
		{"king perhaps ready", king, grow.ExpectInput{Day: 22, ColonisedDaysAgo: new(5)}, "Ripening, day 5 of about 7.", "Firm yet", grow.ReadyNow, "Clean"},
		{"king ready", king, grow.ExpectInput{Day: 25, ColonisedDaysAgo: new(8)}, "Ready for 1 day. Move today.", "", grow.ToFruiting, "Clean"},
		{"shiitake grown over today", shiitake, grow.ExpectInput{Day: 29, ColonisedDaysAgo: new(0)}, "Grown over. Ripening takes about 45 days.", "Blisters", grow.Clean, "Clean"},
		{"shiitake by its days", shiitake, grow.ExpectInput{Day: 80, ColonisedDaysAgo: new(50)}, "Should be ripe about now.", "A third to two thirds", grow.ReadyNow, "Clean"},
		{"forecast says when ready", oyster, grow.ExpectInput{Day: 14, ColonisedDaysAgo: new(0), ReadyDue: 16}, "Grown over. Ready in 2 days.", "", grow.Clean, "Clean"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			test.in.Species = species(t, test.slug)
			if test.in.State == "" {
				test.in.State = grow.Colonising
			}
			got := grow.Expect(test.in)
			lines := append(slices.Clone(got.Lines), "", "")
			if !strings.HasPrefix(lines[0], test.first) || !strings.HasPrefix(lines[1], test.second) || test.second == "" && lines[1] != "" {
				t.Errorf("says %q, want %q and %q", got.Lines, test.first, test.second)
			}
			if got.Largest != test.largest || got.CleanWord != test.word {
				t.Errorf("largest %q, word %q; want %q, %q", got.Largest, got.CleanWord, test.largest, test.word)
			}
		})
	}
}

// A thin or slow species is never judged by a fast one: on day 13 an oyster may
// be nearly due, a lion's mane that looks bare is on time.
func TestThinAndSlowAreNotCalledLate(t *testing.T) {
	t.Parallel()
	for _, s := range grow.BuiltInSpecies() {
		for day := range int(s.SpawnRun.Days.High) + 1 {
			in := grow.ExpectInput{Species: s, Day: day, State: grow.Colonising, Turned: day > 7}
			got := grow.Expect(in)
			text := strings.ToLower(strings.Join(got.Lines, " "))
			for _, word := range []string{"late", "past", "stall", "slower", "overdue"} {
				if slices.Contains(strings.FieldsFunc(text, func(r rune) bool { return r < 'a' || r > 'z' }), word) {
					t.Errorf("%s, day %d: %q", s.Slug, day, got.Lines)
				}
			}
			if s.Pace == grow.Slow && float64(day) < s.SpawnRun.Days.Low && got.Largest == grow.GrownOver {
				t.Errorf("%s, day %d: grown over is expected weeks early", s.Slug, day)
			}
		}
	}
}

// Whatever the bag: one or two lines that fit a phone, an answer each for the
// two places unless the bag is out or unmarked, and nothing hasty.
func TestExpectProperties(t *testing.T) {
	t.Parallel()
	list := grow.BuiltInSpecies()
	own, err := grow.NewSpecies(grow.Override{Slug: "agrocybe-farmi", Name: new("field cap"), Short: new("FIELD"),
		Days: &[3]float64{10, 15, 20}, TempC: &[3]float64{18, 20, 24}})
	if err != nil {
		t.Fatal(err)
	}
	list = append(list, own)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(list).Draw(t, "species")
		s.Ready = rapid.SampledFrom(grow.ReadyRules()).Draw(t, "ready")
		flag := func(name string) bool { return rapid.Bool().Draw(t, name) }
		in := grow.ExpectInput{
			Species: s, Day: rapid.IntRange(-1, 400).Draw(t, "day"), State: rapid.SampledFrom(grow.States).Draw(t, "state"),
			GrownOverDue: rapid.IntRange(0, 120).Draw(t, "due"), ReadyDue: rapid.IntRange(0, 200).Draw(t, "ready due"),
			FirstHuntDay: rapid.IntRange(0, 30).Draw(t, "hunt"), Late: flag("late"), Slow: flag("slow"), Started: flag("started"),
			Turned: flag("turned"), Pins: flag("pins"), Contaminated: flag("contaminated"), Unshaken: flag("unshaken"),
		}
		if flag("grown over") {
			in.ColonisedDaysAgo = new(rapid.IntRange(0, 200).Draw(t, "ago"))
		}
		got := grow.Expect(in)
		if len(got.Lines) < 1 || len(got.Lines) > 2 {
			t.Fatalf("%d lines: %q", len(got.Lines), got.Lines)
		}
		for _, line := range got.Lines {
			if n := utf8.RuneCountInString(line); n == 0 || n > 90 {
				t.Fatalf("a line of %d characters: %q", n, line)
			}
			if float64(in.Day) <= s.SpawnRun.Days.High && strings.Contains(strings.ToLower(line), "stall") {
				t.Fatalf("called stalled on day %d: %q", in.Day, line)
			}
			if strings.Contains(line, " -") || strings.Contains(line, "  ") {
				t.Fatalf("a negative number or a gap: %q", line)
			}
		}
		silent := in.State.Out() || in.State == grow.Unmarked && !in.Contaminated
		if silent != (got.Largest == grow.NoAnswer) || got.CleanWord == "" {
			t.Fatalf("state %s: largest %q, word %q", in.State, got.Largest, got.CleanWord)
		}
		if !silent && (got.Second == grow.NoAnswer || got.Second == got.Largest) {
			t.Fatalf("largest %q, second %q", got.Largest, got.Second)
		}
		if in.Contaminated && !in.State.Out() && !slices.ContainsFunc(got.Lines, func(l string) bool { return strings.Contains(l, "Do not shake, press or smell it.") }) {
			t.Fatalf("a mouldy bag without its caution: %q", got.Lines)
		}
	})
}

func TestAge(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		day  int
		made grow.Date
		want string
	}{
		{4, grow.DateOn(2026, time.March, 14), "Day 4 · made Sat 14 Mar"},
		{0, grow.DateOn(2026, time.November, 1), "Day 0 · made Sun 1 Nov"},
		{320, grow.DateOn(2025, time.March, 14), "Day 320 · made Fri 14 Mar 2025"},
		{-1, grow.DateOn(2026, time.March, 15), "Not made yet · Sun 15 Mar"},
	} {
		if got := grow.Age(test.day, test.made); got != test.want {
			t.Errorf("got %q, want %q", got, test.want)
		}
	}
}
