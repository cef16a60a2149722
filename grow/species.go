package grow

import (
	"encoding/json"
	"slices"
)

// Slug names a species for good, such as pleurotus-eryngii.
type Slug string

// Mark says how far a built-in number can be trusted.
type Mark string

// The marks. A published figure names where it was seen; one from memory was
// not checked against any source and is never shown as published.
const (
	Published      Mark = "published"
	CommonPractice Mark = "common practice"
	FromMemory     Mark = "from memory"
	FarmsOwn       Mark = "your farm's own"
)

// Range is a low, a typical and a high value. Source is a short citation of the
// published work, "" where there is none.
type Range struct {
	Low     float64 `json:"low"`
	Typical float64 `json:"typical"`
	High    float64 `json:"high"`
	Mark    Mark    `json:"mark"`
	Source  string  `json:"source,omitempty"`
}

// Numbers are low, typical and high.
func (r Range) Numbers() [3]float64 { return [3]float64{r.Low, r.Typical, r.High} }

// Span is a range of which only the two ends are known. A figure that was given
// as "under 1000" runs from 0; a single one has both ends alike.
type Span struct {
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Mark   Mark    `json:"mark"`
	Source string  `json:"source,omitempty"`
}

// Middle is halfway between the ends.
func (s Span) Middle() float64 { return (s.Low + s.High) / 2 }

// Figure is one number with its mark.
type Figure struct {
	Value  float64
	Mark   Mark
	Source string
}

// SpawnRun is the time from inoculation to grown over. Days count from
// inoculation (low, typical, high) in a bag of 2 to 3 kg, shaken, at the target
// temperature. TempC is the band of the room's air in °C (low, target, high);
// CeilingC is where growth slows strongly or stops.
type SpawnRun struct {
	Days     Range
	TempC    Range
	CeilingC Figure
}

// spawnRunJSON is how a spawn run is written: plain numbers first, so that a
// reader who wants no marks need not look at them.
type spawnRunJSON struct {
	Days          [3]float64 `json:"days"`
	TempC         [3]float64 `json:"temp_c"`
	CeilingC      float64    `json:"ceiling_c"`
	DaysMark      Mark       `json:"days_mark"`
	TempMark      Mark       `json:"temp_mark"`
	CeilingMark   Mark       `json:"ceiling_mark"`
	DaysSource    string     `json:"days_source,omitempty"`
	TempSource    string     `json:"temp_source,omitempty"`
	CeilingSource string     `json:"ceiling_source,omitempty"`
}

// MarshalJSON writes {"days":[low,typical,high],"temp_c":[low,target,high],…}.
func (r SpawnRun) MarshalJSON() ([]byte, error) {
	return json.Marshal(spawnRunJSON{
		Days: r.Days.Numbers(), DaysMark: r.Days.Mark, DaysSource: r.Days.Source,
		TempC: r.TempC.Numbers(), TempMark: r.TempC.Mark, TempSource: r.TempC.Source,
		CeilingC: r.CeilingC.Value, CeilingMark: r.CeilingC.Mark, CeilingSource: r.CeilingC.Source,
	})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (r *SpawnRun) UnmarshalJSON(b []byte) error {
	var j spawnRunJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return &Error{Kind: Invalid, Message: "not a spawn run", Cause: err}
	}
	r.Days = Range{j.Days[0], j.Days[1], j.Days[2], j.DaysMark, j.DaysSource}
	r.TempC = Range{j.TempC[0], j.TempC[1], j.TempC[2], j.TempMark, j.TempSource}
	r.CeilingC = Figure{j.CeilingC, j.CeilingMark, j.CeilingSource}
	return nil
}

// ReadyRule says what ready for fruiting means for a species or strain.
type ReadyRule string

// The ready rules.
const (
	ReadyAllGrown ReadyRule = "grown over"
	ReadyPins     ReadyRule = "first pins"
	ReadyDays     ReadyRule = "days after grown over"
	ReadyBrowning ReadyRule = "browning"
)

// ReadyRules are the ready rules in the order in which pages offer them.
func ReadyRules() []ReadyRule {
	return []ReadyRule{ReadyAllGrown, ReadyPins, ReadyDays, ReadyBrowning}
}

// Pace says how growth is judged by eye: a thin or slow species never by the
// standard of a fast one.
type Pace string

// The paces.
const (
	Fast Pace = "fast" // thick and white within two weeks
	Thin Pace = "thin" // looks stalled, then finishes in a few days
	Slow Pace = "slow" // nothing is due for weeks
)

// Climate is what the air should be, and for how many days: °C, days, relative
// humidity in per cent, parts per million of carbon dioxide.
type Climate struct {
	TempC  Span `json:"temp_c"`
	Days   Span `json:"days"`
	RH     Span `json:"rh_pct"`
	CO2ppm Span `json:"co2_ppm"`
}

// FruitingGuide is what follows the spawn run: setting pins, then growing them.
type FruitingGuide struct {
	Pinning Climate `json:"pinning"`
	Growing Climate `json:"growing"`
	Flushes Span    `json:"flushes"`
	Between Span    `json:"days_between_flushes"`
	// BE is biological efficiency over all flushes: fresh mushrooms in per cent
	// of the dry substrate at filling.
	BE Span `json:"biological_efficiency_pct"`
}

// Cardinal are the temperatures (°C) between which mycelium grows, and at which
// it grows fastest. They belong to the cardinal temperature model with
// inflection of Rosso, Lobry and Flandrois 1993 (J. Theor. Biol. 162: 447-463;
// cited from memory), which needs OptC above the middle of MinC and MaxC.
type Cardinal struct {
	MinC   float64 `json:"min_c"`
	OptC   float64 `json:"opt_c"`
	MaxC   float64 `json:"max_c"`
	Mark   Mark    `json:"mark"`
	Source string  `json:"source,omitempty"`
}

// Species is what the farm knows of one species, or of one strain of it. Every
// built-in number is a starting point that a farm replaces by its own.
type Species struct {
	Slug   Slug     `json:"slug"`
	Strain string   `json:"strain,omitempty"` // set when a strain's own figures are in it
	Name   string   `json:"name"`
	Short  string   `json:"short"` // at most six capitals, for the label
	Latin  string   `json:"latin"`
	Older  []string `json:"older_names"`
	Names  []string `json:"names"` // every name that the trade uses

	SpawnRun     SpawnRun  `json:"spawn_run"`
	RipeningDays Span      `json:"ripening_days"` // from grown over to ready
	Ready        ReadyRule `json:"ready"`

	Pace         Pace `json:"pace"`
	FirstSignDay int  `json:"first_sign_day"` // first day on which growth may be seen
	// Look is its growth through the closed bag; EyeNote is the same in one
	// line for the bag's page, "" where nothing about it misleads.
	Look    string `json:"look"`
	EyeNote string `json:"eye_note"`
	// ReadySign is what ready looks like, ReadyQuestion asks for it in one line,
	// PinWord is what its first pins are called.
	ReadySign     string `json:"ready_sign"`
	ReadyQuestion string `json:"ready_question"`
	PinWord       string `json:"pin_word"`

	Fruiting FruitingGuide `json:"fruiting"`
	Growth   Cardinal      `json:"growth"`
}

// BuiltInSpecies are the species that every farm starts with. The caller owns
// the copy.
func BuiltInSpecies() []Species {
	out := make([]Species, len(builtInSpecies))
	for i, s := range builtInSpecies {
		s.Older, s.Names = append([]string{}, s.Older...), slices.Clone(s.Names)
		s.Fruiting = builtInFruiting[s.Slug]
		out[i] = s
	}
	return out
}
