package climate_test

import (
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/grow/climate"
)

func TestSuitWords(t *testing.T) {
	t.Parallel()
	list := guests(t, 2, six...)
	for i, name := range []string{"oyster", "king oyster", "lion's mane", "enoki", "shiitake", "reishi"} {
		list[i].Name = name
	}
	s := climate.Suit(list)
	hot := guests(t, 2, "flammulina-filiformis", "pleurotus-djamor")
	hot[0].Name, hot[1].Name = "enoki", "pink oyster"
	hot[1].Band.LowC = 24
	never := guests(t, 2, six...)
	never[3].Band.CeilingC = 5
	for _, c := range []struct{ name, got, want string }{
		{"all six", climate.SuitWords(s, list, grow.UnitsOf("metric")), "22.0 suits all six."},
		{"in Fahrenheit", climate.SuitWords(s, list, grow.UnitsOf("imperial")), "71.6 suits all six."},
		{"one", climate.SuitWords(climate.Suit(list[3:4]), list[3:4], grow.UnitsOf("metric")), "18.0 suits enoki."},
		{"out at 24", climate.OutWords(climate.At(list, 24), grow.UnitsOf("metric")), "enoki is 2 over"},
		{"out at 27", climate.OutWords(climate.At(list, 27), grow.UnitsOf("metric")), "oyster is 3 over, king oyster is 2 over, lion's mane is 2 over, enoki is 5 over and its core past its ceiling and shiitake is 2 over"},
		{"out at 22", climate.OutWords(climate.At(list, 22), grow.UnitsOf("metric")), "all are in band"},
		{"none suits", climate.SuitWords(climate.Suit(hot), hot, grow.UnitsOf("metric")), "No temperature is in every band. 23.0 is nearest: enoki is 1 over and pink oyster is 1 under."},
		{"nobody", climate.SuitWords(climate.Suit(nil), nil, grow.UnitsOf("metric")), "Nothing stands here that grows over."},
		{"impossible", climate.SuitWords(climate.Suit(never), never, grow.UnitsOf("metric")), "No temperature suits them together: at each, some core would pass its ceiling. They need two rooms."},
		{"curves", climate.CurveWords(s, list, grow.UnitsOf("metric")), "By growth curves alone 23.7 would be fastest over all bags, and 24.0 would hold none back more than it must; at 22.0 growth takes 2.8 % longer than at the fastest. The curves are flat near their top and know nothing of core heat, quality and moulds, so the bands come first."},
		{"two rooms, little", climate.TwoRoomsWords(climate.Share(list), list, grow.UnitsOf("metric")), "A second room changes little: one suits all. Growth would gain 2.2 % at the most over the best single room. What it would do is keep an outbreak apart."},
		{"worth", climate.WorthWords(s, list, 24, grow.UnitsOf("metric")), "Setting it to 22.0 would bring enoki (1 bag) into band; by the curves all together would take about 2.7 % longer than now."},
		{"worth nothing", climate.WorthWords(s, list, 21.9, grow.UnitsOf("metric")), ""},
		{"some room", climate.SuitWords(climate.Suit(list[:3]), list[:3], grow.UnitsOf("metric")), "23.0 suits all three. So does anything from 20.0 to 24.0; 22.0 leaves most room for swings."},
		{"one guest", climate.TwoRoomsWords(climate.Share(list[:1]), list[:1], grow.UnitsOf("metric")), ""},
	} {
		if c.got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, c.got, c.want)
		}
	}
	if w := climate.TwoRoomsWords(climate.Share(hot), hot, grow.UnitsOf("metric")); !strings.HasPrefix(w, "A second room would bring all into band: enoki at 18.0 and pink oyster at 26.0.") {
		t.Errorf("two rooms that pay: %s", w)
	}
}

// TestExposureWords: what is known and how, the band, the ceiling, and nothing made
// up for what is not.
func TestExposureWords(t *testing.T) {
	t.Parallel()
	c := curve(t, 3, 23, 33)
	e := climate.Expose([]climate.Stay{{From: 100, To: 172, Track: steady(23, 24), OffsetC: 2}}, enoki, c)
	if got, want := climate.ExposureShort(e), "Its air: 1 of 3 days known, 1 of them out of its band; by its curve that allows 97 in 100 of its best growth."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	text := strings.Join(climate.ExposureWords(e, enoki, grow.Units{Temperature: grow.Fahrenheit}), " ")
	for _, want := range []string{"1 of 3 days known: 1 measured. 2 days unknown.", "1 day over its band: hours between 73.4 and 73.4 °F."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q lacks %q", text, want)
		}
	}
	if strings.Contains(text, "ceiling") {
		t.Errorf("%q speaks of a ceiling that was not passed", text)
	}
	hot := climate.Expose([]climate.Stay{{From: 100, To: 124, Track: steady(28, 24), OffsetC: 2}}, enoki, c)
	if text := strings.Join(climate.ExposureWords(hot, enoki, grow.Units{}), " "); !strings.Contains(text, "1 day with its core past its ceiling of 28.0 °C") {
		t.Errorf("hot: %q", text)
	}
	nothing := climate.Expose([]climate.Stay{{From: 0, To: 24}}, enoki, c)
	if short, long := climate.ExposureShort(nothing), climate.ExposureWords(nothing, enoki, grow.Units{}); short != "" || len(long) != 1 || long[0] != "Nothing is known of its air: 1 day unknown." {
		t.Errorf("nothing known: %q, %q", short, long)
	}
}
