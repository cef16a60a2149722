package trace

import "math"

// A Method names how a row was tested.
type Method string

const (
	StratifiedExact  Method = "stratified_exact_midp"
	PooledOdds       Method = "mantel_haenszel"
	BatchPermutation Method = "batch_permutation"
	SunPermutation   Method = "sun_permutation"
	NoMethod         Method = "none"
)

// A Row is what the records say of one value of one condition.
type Row struct {
	Key            string   `json:"key"`
	Level          Level    `json:"level"`
	Value          string   `json:"value"`
	Normal         *string  `json:"normal"` // nil: the value is compared with all others
	With           Group    `json:"with"`
	Without        Group    `json:"without"`
	NotCounted     int      `json:"not_counted"` // of bags whose value is known
	Difference     *Bounds  `json:"difference"`  // rate with less rate without
	OddsRatio      *Bounds  `json:"odds_ratio"`
	P              *float64 `json:"p_value"`
	Q              *float64 `json:"q_value"` // adjusted for all rows made together
	Method         Method   `json:"method"`
	Batches        int      `json:"batches"`         // how many the method used
	Early          *Early   `json:"left_early"`      // shares that allow for bags gone early, nil where few were
	ConfoundedWith []string `json:"confounded_with"` // keys of conditions that the records cannot tell apart from this
	Verdict        Verdict  `json:"verdict"`
	Words          string   `json:"words"`

	Detail Detail `json:"-"`
}

// Detail is what a page may want to say about a row beside its words.
type Detail struct {
	Name    string    // "flow hood off"
	Sides   [2]string // the bags with the value and those without, as they follow a number: "with flow hood off", "by Joss"
	Young   int       // bags of batches that have not reached the species' day
	Unseen  int       // bags that nobody looked at since before it
	Left    int       // bags gone before it for another reason
	Unknown int       // bags with no recorded value
	Late    int       // bags whose value was changed after the find; the earlier one counts
	Find    []string  // codes of bags that would answer if they were seen
	Need    Need      // how many bags would tell, where the verdict is that it cannot be told
	Hardly  []string  // names of conditions that differ from this on a few bags only
	Sampled bool      // the p is from random arrangements
	Ratio   *Bounds   // rate with it over rate without, nil where there is none
}

// A Group is one side of a comparison. Rate is nil of no bags, and then the limits are 0 and 1.
type Group struct {
	Bags         int      `json:"bags"`
	Contaminated int      `json:"contaminated"`
	Rate         *float64 `json:"rate"`
	Low          *float64 `json:"low"`
	High         *float64 `json:"high"`
}

// Bounds are an interval for JSON: what is infinite or undefined is nil.
type Bounds struct {
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

// Bounds turns an interval into its JSON form.
func (i Interval) Bounds() *Bounds {
	return &Bounds{finite(i.Estimate), finite(i.Low), finite(i.High)}
}

// finite is nil for what JSON cannot hold.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// group makes one side from its batches' counts; over several batches the limits are those of the effective number.
func group(batches []Counts, rho float64) Group {
	var all Counts
	for _, c := range batches {
		all = all.plus(c)
	}
	w := Wilson(Effective(batches, rho))
	return Group{
		Bags: int(all.Bags), Contaminated: int(all.Bad),
		Rate: finite(all.Rate()), Low: finite(w.Low), High: finite(w.High),
	}
}

// A ValueGroup is all counted bags with one value of a condition.
type ValueGroup struct {
	Value string `json:"value"`
	Group
}
