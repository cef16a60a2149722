package grow_test

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func species(t *testing.T, slug grow.Slug) grow.Species {
	t.Helper()
	s, ok := grow.SpeciesOf(grow.OwnSpecies(nil), nil, slug, "")
	if !ok {
		t.Fatalf("no built-in species %s", slug)
	}
	return s
}

// The days (common practice, bags of 2 to 3 kg) and the marks of the room's
// band, species by species.
func TestBuiltInSpeciesFigures(t *testing.T) {
	t.Parallel()
	want := []struct {
		slug  grow.Slug
		days  [3]float64
		tempC [3]float64
		temp  grow.Mark
	}{
		{"pleurotus-ostreatus", [3]float64{10, 13, 18}, [3]float64{18, 22, 24}, grow.CommonPractice},
		{"pleurotus-pulmonarius", [3]float64{9, 12, 16}, [3]float64{20, 25, 28}, grow.Published},
		{"pleurotus-eryngii", [3]float64{12, 16, 24}, [3]float64{20, 23, 25}, grow.Published},
		{"pleurotus-citrinopileatus", [3]float64{9, 12, 16}, [3]float64{22, 25, 28}, grow.Published},
		{"pleurotus-djamor", [3]float64{8, 12, 20}, [3]float64{22, 26, 29}, grow.FromMemory},
		{"hericium-erinaceus", [3]float64{10, 14, 22}, [3]float64{20, 23, 25}, grow.Published},
		{"flammulina-filiformis", [3]float64{12, 16, 22}, [3]float64{14, 18, 22}, grow.CommonPractice},
		{"hypsizygus-marmoreus", [3]float64{28, 35, 45}, [3]float64{18, 22, 24}, grow.Published},
		{"lentinula-edodes", [3]float64{21, 28, 40}, [3]float64{20, 23, 25}, grow.Published},
		{"pholiota-microspora", [3]float64{21, 28, 40}, [3]float64{18, 21, 23}, grow.CommonPractice},
		{"cyclocybe-aegerita", [3]float64{18, 24, 32}, [3]float64{20, 24, 26}, grow.Published},
		{"pholiota-adiposa", [3]float64{14, 20, 30}, [3]float64{20, 23, 26}, grow.FromMemory},
		{"grifola-frondosa", [3]float64{28, 35, 50}, [3]float64{20, 23, 25}, grow.FromMemory},
		{"ganoderma-lingzhi", [3]float64{14, 18, 28}, [3]float64{22, 26, 29}, grow.FromMemory},
		{"stropharia-rugosoannulata", [3]float64{28, 35, 50}, [3]float64{20, 23, 26}, grow.FromMemory},
	}
	list := grow.BuiltInSpecies()
	if len(list) != len(want) {
		t.Fatalf("%d species, want %d", len(list), len(want))
	}
	for i, w := range want {
		s := list[i]
		if s.Slug != w.slug || s.SpawnRun.Days.Numbers() != w.days || s.SpawnRun.TempC.Numbers() != w.tempC || s.SpawnRun.TempC.Mark != w.temp {
			t.Errorf("species %d: got %s %v %v %s, want %+v", i, s.Slug, s.SpawnRun.Days.Numbers(), s.SpawnRun.TempC.Numbers(), s.SpawnRun.TempC.Mark, w)
		}
		if s.SpawnRun.Days.Mark != grow.CommonPractice {
			t.Errorf("%s: days are marked %q; no published work gives them", s.Slug, s.SpawnRun.Days.Mark)
		}
	}
}

// Common practice: most oyster-type bags are white in 10 to 14 days, and some
// cold-loving species struggle at 23 to 24 °C.
func TestSpeciesAgreeWithPractice(t *testing.T) {
	t.Parallel()
	for _, slug := range []grow.Slug{"pleurotus-ostreatus", "pleurotus-pulmonarius", "pleurotus-citrinopileatus"} {
		if d := species(t, slug).SpawnRun.Days.Typical; d < 10 || d > 14 {
			t.Errorf("%s: typically %v days", slug, d)
		}
	}
	for _, slug := range []grow.Slug{"flammulina-filiformis", "pholiota-microspora", "hypsizygus-marmoreus"} {
		if top := species(t, slug).SpawnRun.TempC.High; top > 24 {
			t.Errorf("%s: band goes up to %v °C", slug, top)
		}
	}
}

func TestSpeciesAreWellFormed(t *testing.T) {
	t.Parallel()
	short := regexp.MustCompile(`^[A-Z0-9]{1,6}$`)
	shorts, names := map[string]bool{}, map[string]bool{}
	for _, s := range grow.BuiltInSpecies() {
		days, temp := s.SpawnRun.Days, s.SpawnRun.TempC
		for problem, is := range map[string]bool{
			"short name":                    !short.MatchString(s.Short) || shorts[s.Short],
			"name":                          s.Name == "" || names[s.Name],
			"days":                          !(1 <= days.Low && days.Low < days.Typical && days.Typical < days.High),
			"temperatures":                  !(temp.Low < temp.Typical && temp.Typical < temp.High && temp.High < s.SpawnRun.CeilingC.Value),
			"cardinal temperatures":         !(s.Growth.MinC < s.Growth.OptC && s.Growth.OptC < s.Growth.MaxC && s.Growth.OptC > (s.Growth.MinC+s.Growth.MaxC)/2),
			"band outside the growth range": temp.Low <= s.Growth.MinC || temp.High >= s.Growth.MaxC,
			"first sign":                    s.FirstSignDay < 1 || float64(s.FirstSignDay) >= days.Low,
			"words":                         s.Look == "" || s.ReadySign == "" || s.ReadyQuestion == "" || s.PinWord == "" || len(s.Names) == 0,
			"ripening":                      s.RipeningDays.Low > s.RipeningDays.High,
			"ready rule":                    !strings.Contains("grown over, first pins, days after grown over, browning", string(s.Ready)) || s.Ready == "",
		} {
			if is {
				t.Errorf("%s: bad %s", s.Slug, problem)
			}
		}
		shorts[s.Short], names[s.Name] = true, true
	}
}

// Every figure carries a mark, a published one names its source, and one from
// memory never borrows the look of a published one.
func TestEveryFigureIsMarked(t *testing.T) {
	t.Parallel()
	marked := func(slug grow.Slug, what string, mark grow.Mark, source string) {
		switch mark {
		case grow.Published:
			if source == "" {
				t.Errorf("%s: %s is published but has no source", slug, what)
			}
		case grow.FromMemory:
			if source != "" && !strings.HasPrefix(source, "limits: ") {
				t.Errorf("%s: %s is from memory but cites %q", slug, what, source)
			}
		case grow.CommonPractice:
		default:
			t.Errorf("%s: %s is marked %q", slug, what, mark)
		}
	}
	for _, s := range grow.BuiltInSpecies() {
		marked(s.Slug, "days", s.SpawnRun.Days.Mark, s.SpawnRun.Days.Source)
		marked(s.Slug, "temperature", s.SpawnRun.TempC.Mark, s.SpawnRun.TempC.Source)
		marked(s.Slug, "ceiling", s.SpawnRun.CeilingC.Mark, s.SpawnRun.CeilingC.Source)
		marked(s.Slug, "growth", s.Growth.Mark, s.Growth.Source)
		f := s.Fruiting
		spans := map[string]grow.Span{"ripening": s.RipeningDays, "flushes": f.Flushes, "biological efficiency": f.BE,
			"pinning °C": f.Pinning.TempC, "pinning days": f.Pinning.Days, "pinning humidity": f.Pinning.RH, "pinning CO2": f.Pinning.CO2ppm,
			"growing °C": f.Growing.TempC, "growing days": f.Growing.Days, "growing humidity": f.Growing.RH, "growing CO2": f.Growing.CO2ppm}
		if f.Flushes.High > 1 {
			spans["days between flushes"] = f.Between
		}
		for what, span := range spans {
			marked(s.Slug, what, span.Mark, span.Source)
			if span.Low > span.High || span.High == 0 && what != "ripening" {
				t.Errorf("%s: %s runs from %v to %v", s.Slug, what, span.Low, span.High)
			}
		}
	}
}

func TestSpeciesJSON(t *testing.T) {
	t.Parallel()
	for _, s := range grow.BuiltInSpecies() {
		b, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		var back grow.Species
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(s, back); diff != "" {
			t.Errorf("%s comes back changed:\n%s", s.Slug, diff)
		}
	}
	b, err := json.Marshal(species(t, "pleurotus-eryngii"))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Slug, Name, Short, Latin string
		SpawnRun                 struct {
			Days  []float64 `json:"days"`
			TempC []float64 `json:"temp_c"`
			Mark  string    `json:"days_mark"`
		} `json:"spawn_run"`
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	run := got.SpawnRun
	if got.Slug != "pleurotus-eryngii" || got.Short != "KING" || got.Latin != "Pleurotus eryngii" ||
		!cmp.Equal(run.Days, []float64{12, 16, 24}) || !cmp.Equal(run.TempC, []float64{20, 23, 25}) || run.Mark != "common practice" {
		t.Errorf("got %+v from %s", got, b)
	}
}

func TestBuiltInSpeciesIsACopy(t *testing.T) {
	t.Parallel()
	first := grow.BuiltInSpecies()
	first[0].Names[0], first[0].Name = "changed", "changed"
	if again := grow.BuiltInSpecies()[0]; again.Names[0] == "changed" || again.Name == "changed" {
		t.Error("a caller's change reached the built-in table")
	}
}
