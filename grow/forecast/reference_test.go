package forecast

import (
	"encoding/json"
	"math"
	"testing"
)

// leftOut are methods, and one check, that the package has no use for.
var leftOut = map[string]string{
	"aft_weibull":              "the lognormal law is the one chosen",
	"aft-lognormal-two-groups": "a regression on a yes/no column, which no forecast makes",
}

func TestReferenceValues(t *testing.T) {
	t.Parallel()
	ran := 0
	for _, c := range loadChecks(t) {
		f, ok := methods[c.Method]
		if reason := leftOut[c.Method] + leftOut[c.ID]; c.Section != 7 || reason != "" {
			continue
		}
		if !ok {
			t.Errorf("%s: nothing computes %s", c.ID, c.Method)
			continue
		}
		ran++
		t.Run(c.ID, func(t *testing.T) {
			t.Parallel()
			f(t, c)
		})
	}
	if ran != 18 {
		t.Errorf("only %d reference values were looked at", ran)
	}
}

var methods = map[string]func(*testing.T, check){
	"prior_from_range":  checkRange,
	"normal_normal":     checkShrink,
	"paule_mandel":      checkPauleMandel,
	"batch_mean":        checkFitMean,
	"aft_lognormal":     checkFitBoth,
	"farm_history":      checkHistory,
	"grid_forecast":     checkBatch,
	"grid_forecast_own": checkOwn,
	"avrami":            checkAvrami,
	"reading_update":    checkReading,
}

type bags struct {
	Left, Right vector
}

func (b bags) spans() []Span {
	var out []Span
	for i := range b.Left {
		out = append(out, Span{b.Left[i], b.Right[i]})
	}
	return out
}

func checkRange(t *testing.T, c check) {
	i := in[struct {
		From float64 `json:"from_day"`
		To   float64 `json:"to_day"`
	}](t, c)
	l := FromRange(i.From, i.To)
	c.compare(t, results{"m0": l.Mean, "tau0": l.SD, "median_day": l.NewBag().Likely})
}

func checkShrink(t *testing.T, c check) {
	i := in[struct {
		M0, Tau0 float64
		Y        vector  `json:"batch_mean_log_day"`
		V        vector  `json:"batch_var"`
		Between  float64 `json:"between_batch_var"`
	}](t, c)
	mean, sd := shrinkMean(i.M0, i.Tau0, i.Y, i.V, i.Between)
	c.compare(t, results{"mean": mean, "sd": sd})
}

func checkPauleMandel(t *testing.T, c check) {
	i := in[struct{ Y, V vector }](t, c)
	c.compare(t, results{"between_batch_var": PauleMandel(i.Y, i.V)})
}

func checkFitMean(t *testing.T, c check) {
	i := in[struct {
		bags
		Sigma float64
	}](t, c)
	f, ok := FitMean(i.spans(), i.Sigma)
	if !ok {
		t.Fatal("no fit")
	}
	c.compare(t, results{"mean": f.Mean, "se_mean": math.Sqrt(f.Variance)})
}

func checkFitBoth(t *testing.T, c check) {
	i := in[struct {
		bags
		Data, Group string
	}](t, c)
	spans := i.spans()
	if i.Data != "" {
		d := table(t, i.Data)
		left, right := numbers(t, d["left"]), numbers(t, d["right"])
		for k, g := range d["group"] {
			if g == i.Group {
				spans = append(spans, Span{left[k], right[k]})
			}
		}
	}
	mean, sd, logLik, ok := FitBoth(spans, 0.001, 50)
	if !ok {
		t.Fatal("no fit")
	}
	c.compare(t, results{"location": mean, "mu": mean, "scale": sd, "sigma": sd, "loglik": logLik}, "se_location", "se_log_scale")
}

func checkHistory(t *testing.T, c check) {
	i := in[struct {
		Batches []bags
		From    float64 `json:"from_day"`
		To      float64 `json:"to_day"`
	}](t, c)
	var h History
	for _, b := range i.Batches {
		h = append(h, b.spans())
	}
	l := FromRange(i.From, i.To).Learn(h)
	c.compare(t, results{"mean": l.Mean, "sd": l.SD, "sigma_b": l.Between, "sigma_w": l.Within})
}

// law has the given spread of a batch's mean, as the checks give it in one figure.
func law(mean, sd, within float64) Law { return Law{Mean: mean, SD: sd, Within: within} }

type gridInput struct {
	bags
	Mean, SD, Sigma, After float64
}

func checkBatch(t *testing.T, c check) {
	i := in[gridInput](t, c)
	b := law(i.Mean, i.SD, i.Sigma).Observe(i.spans())
	mean, sd := b.Moments()
	d := b.Days(0)
	c.compare(t, results{"posterior_mean": mean, "posterior_sd": sd, "q10": d.Early, "q50": d.Likely, "q90": d.Late})
}

func checkOwn(t *testing.T, c check) {
	i := in[gridInput](t, c)
	b := law(i.Mean, i.SD, i.Sigma).Observe(i.spans())
	d := b.Days(i.After)
	c.compare(t, results{"q10": d.Early, "q50": d.Likely, "q90": d.Late, "by_day_24": b.DoneBy(24, i.After), "by_day_28": b.DoneBy(28, i.After)})
}

func checkAvrami(t *testing.T, c check) {
	i := in[Reading](t, c)
	logDay, sd := i.End()
	c.compare(t, results{"log_full": logDay, "day_full": math.Exp(logDay), "sd": sd})
}

func checkReading(t *testing.T, c check) {
	i := in[struct{ Mean, SD, Day, Share float64 }](t, c)
	logDay, sd := Reading{i.Day, i.Share}.End()
	b := bell{i.Mean, i.SD}.with(bell{logDay, sd})
	d := b.days(i.Day)
	c.compare(t, results{"mean": b.mean, "sd": b.sd, "q10": d.Early, "q50": d.Likely, "q90": d.Late})
}

// The right ends of a check are null where the bag is still running.
func TestRunningIsInfinite(t *testing.T) {
	t.Parallel()
	var b bags
	if err := json.Unmarshal([]byte(`{"left":[1],"right":[null]}`), &b); err != nil || b.spans()[0].Finished() {
		t.Errorf("got %v, %v", b, err)
	}
}
