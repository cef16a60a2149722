package trace

import (
	"encoding/json"
	"math"
	"testing"
)

// elsewhere are methods of the reference file that are not this package's.
var elsewhere = map[string]string{
	"aft_lognormal": "forecast", "aft_weibull": "not used", "avrami": "forecast", "batch_mean": "forecast",
	"farm_history": "forecast", "grid_forecast": "forecast", "grid_forecast_own": "forecast", "normal_normal": "forecast",
	"paule_mandel": "forecast", "prior_from_range": "forecast", "reading_update": "forecast",
	"miettinen_nurminen_difference": "not used: Newcombe's interval stands for the difference",
	"rao_scott_design_effect":       "not used: the correlation of all groups together makes the design effect",
	"ewma":                          "not used: the alarm is the cumulative sum",
}

func TestReferenceValues(t *testing.T) {
	t.Parallel()
	ran := 0
	for _, c := range loadChecks(t) {
		f, ok := methods[c.Method]
		if !ok {
			if elsewhere[c.Method] == "" {
				t.Errorf("%s: nothing computes %s", c.ID, c.Method)
			}
			continue
		}
		ran++
		t.Run(c.ID, func(t *testing.T) {
			t.Parallel()
			f(t, c)
		})
	}
	if ran < 100 {
		t.Errorf("only %d reference values were looked at", ran)
	}
}

var methods = map[string]func(*testing.T, check){
	"wilson":                   checkWilson,
	"newcombe_difference":      checkNewcombe,
	"stratified_exact":         checkExact,
	"standardised_difference":  checkStandardised,
	"icc_anova":                checkICC,
	"cluster_difference":       checkCluster,
	"batch_permutation":        checkPermutation,
	"benjamini_hochberg":       checkAdjust,
	"n_per_group":              checkBagsFor,
	"n_per_group_margin":       checkBagsWithin,
	"verdict":                  checkVerdict,
	"beta_prior":               checkBetaPrior,
	"beta_binomial":            checkTurning,
	"residual_risk":            checkResidual,
	"rank_suspects":            checkRank,
	"miettinen_nurminen_ratio": checkRatio,
	"aliasing":                 checkAliases,
	"turnbull":                 checkTurnbull,
	"interval_logrank":         checkScores,
	"interval_logrank_exact":   checkExactScores,
	"kaplan_meier":             checkKaplanMeier,
	"aalen_johansen":           checkIncidence,
	"p_chart":                  checkChart,
	"cusum":                    checkSums,
	"cusum_arl_one_sided":      checkRunLengths,
	"firth":                    checkFirth,
}

// quantile is the normal quantile of a two-sided confidence.
func quantile(confidence float64) float64 { return math.Sqrt2 * math.Erfinv(confidence) }

func checkWilson(t *testing.T, c check) {
	i := in[struct{ X, N, Confidence float64 }](t, c)
	w := WilsonAt(Counts{i.X, i.N}, quantile(i.Confidence))
	c.compare(t, results{"lower": w.Low, "upper": w.High})
}

type twoGroups struct {
	X1, N1, X0, N0, Confidence float64
}

func checkNewcombe(t *testing.T, c check) {
	i := in[twoGroups](t, c)
	d := NewcombeDifference(Counts{i.X1, i.N1}, Counts{i.X0, i.N0})
	c.compare(t, results{"diff": d.Estimate, "lower": d.Low, "upper": d.High})
}

func strata(t *testing.T, c check) []Stratum {
	t.Helper()
	i := in[struct {
		Strata []struct {
			ExposedContaminated int `json:"exposed_contaminated"`
			Exposed             int
			Contaminated        int
			Bags                int
		}
	}](t, c)
	var out []Stratum
	for _, s := range i.Strata {
		out = append(out, Stratum{s.ExposedContaminated, s.Exposed, s.Contaminated, s.Bags})
	}
	return out
}

func checkExact(t *testing.T, c check) {
	s := strata(t, c)
	e := NewExact(s)
	low, high := e.low, e.low+len(e.logw)-1
	tails, mid, exact, mh := e.Tails(0), e.OddsRatio(), e.oddsRatio(1), MantelHaenszel(s)
	leftOut := []string{"p_exact_two_sided_minlik"} // another two-sided p, never shown
	for _, key := range []string{"mh_lower", "mh_upper"} {
		// The large-sample limits of an odds ratio of 0 or infinity are not defined; here they are 0 and infinity.
		if string(c.Expect[key]) == `"NaN"` {
			leftOut = append(leftOut, key)
		}
	}
	c.compare(t, results{
		"sum": e.observed, "support_low": low, "support_high": high, "p_upper": tails.Upper, "p_lower": tails.Lower,
		"p_midp_two_sided": tails.MidP(), "p_exact_two_sided_central": math.Min(1, 2*math.Min(tails.Upper, tails.Lower)), "odds_ratio": mid.Estimate,
		"midp_lower": mid.Low, "midp_upper": mid.High, "exact_lower": exact.Low, "exact_upper": exact.High,
		"mh_odds_ratio": mh.Estimate, "mh_lower": mh.Low, "mh_upper": mh.High, "mh_chisq": mh.ChiSquared,
	}, leftOut...)
}

func checkStandardised(t *testing.T, c check) {
	d := StandardisedDifference(strata(t, c))
	r := results{"diff": d.Estimate, "lower": d.Low, "upper": d.High, "rate1": d.With.Rate(), "rate0": d.Without.Rate(), "neff1": d.With.Bags, "neff0": d.Without.Bags}
	c.compare(t, r)
}

// litters are deaths by litter in the two groups of litters.csv.
func litters(t testing.TB) (treated, control []Counts) {
	t.Helper()
	d := table(t, "litters.csv")
	pups, survived := numbers(t, d["pups"]), numbers(t, d["survived"])
	for i, g := range d["group"] {
		n := Counts{pups[i] - survived[i], pups[i]}
		if g == "treat" {
			treated = append(treated, n)
		} else {
			control = append(control, n)
		}
	}
	return treated, control
}

func checkICC(t *testing.T, c check) {
	a, b := litters(t)
	c.compare(t, results{"rho": ICC(b, a), "rho_ctrl": ICC(b), "rho_treat": ICC(a)})
}

type batchInput struct {
	Y, N, Exposed, Stratum json.RawMessage
}

// batches reads y, n, exposed and stratum lists.
func batches(t *testing.T, c check) []Batch {
	t.Helper()
	i := in[batchInput](t, c)
	list := func(raw json.RawMessage) (v vector) {
		if len(raw) > 0 {
			if err := json.Unmarshal(raw, &v); err != nil {
				t.Fatal(err)
			}
		}
		return v
	}
	y, n, x, s := list(i.Y), list(i.N), list(i.Exposed), list(i.Stratum)
	var out []Batch
	for k := range y {
		b := Batch{Counts: Counts{y[k], n[k]}, Exposed: x[k] == 1}
		if len(s) > 0 {
			b.Stratum = string(rune('a' + int(s[k])))
		}
		out = append(out, b)
	}
	return out
}

func checkCluster(t *testing.T, c check) {
	with, without := litters(t)
	if c.ID != "batch-cluster-litters" {
		with, without = nil, nil
		for _, b := range batches(t, c) {
			if b.Exposed {
				with = append(with, b.Counts)
			} else {
				without = append(without, b.Counts)
			}
		}
	}
	d := ClusterDifference(with, without)
	c.compare(t, results{"diff": d.Estimate, "lower": d.Low, "upper": d.High, "rho": d.ICC, "neff1": d.With.Bags, "neff0": d.Without.Bags}, "t_quantile")
}

func checkPermutation(t *testing.T, c check) {
	p := Permute(batches(t, c))
	c.compare(t, results{"diff": p.Difference, "arrangements": p.Arrangements, "two_sided": p.P, "upper": p.Upper, "lower": p.Lower, "smallest": p.Smallest})
}

func checkAdjust(t *testing.T, c check) {
	i := in[struct {
		P vector
		Q float64
	}](t, c)
	q := Adjust(i.P)
	rejected := 0
	for _, x := range q {
		if x <= i.Q {
			rejected++
		}
	}
	c.compare(t, results{"adjusted": q, "rejected": rejected})
}

func checkBagsFor(t *testing.T, c check) {
	i := in[struct{ P1, P0, Alpha, Power float64 }](t, c)
	n := bagsFor(i.P1, i.P0, quantile(1-i.Alpha), quantile(2*i.Power-1))
	c.compare(t, results{"n": n, "n_corrected": corrected(n, i.P1-i.P0)})
}

func checkBagsWithin(t *testing.T, c check) {
	i := in[struct{ P1, P0, Margin, Alpha, Power float64 }](t, c)
	n := bagsWithin(i.P1, i.P0, i.Margin, quantile(1-2*i.Alpha), quantile(i.Power))
	c.compare(t, results{"n": n, "n_up": math.Ceil(n)})
}

// verdictWords are the reference file's names of verdicts.
var verdictWords = map[Verdict]string{
	PointsTo: "points to", SmallDifference: "small difference", CannotTell: "cannot tell yet", NoDifference: "no difference that matters",
}

func checkVerdict(t *testing.T, c check) {
	i := in[struct {
		Lower, Upper, Margin float64
		AdjustedP            num `json:"adjusted_p"`
	}](t, c)
	got := verdictWords[Judge(Interval{0, i.Lower, i.Upper}, i.Margin, float64(i.AdjustedP))]
	var want string
	if err := json.Unmarshal(c.Expect["verdict"], &want); err != nil {
		t.Fatal(err)
	}
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func checkBetaPrior(t *testing.T, c check) {
	i := in[struct{ Y, N vector }](t, c)
	var all []Counts
	for k := range i.Y {
		all = append(all, Counts{i.Y[k], i.N[k]})
	}
	b := BetaPrior(all)
	c.compare(t, results{"a": b.A, "b": b.B, "rho": ICC(all)})
}

func checkTurning(t *testing.T, c check) {
	i := in[struct {
		A, B  float64
		Alive int
	}](t, c)
	b := Beta{i.A, i.B}
	p := b.Turning(i.Alive)
	n := b.Turn(i.Alive)
	c.compare(t, results{"mean": n.Mean, "none": p[0], "any": 1 - p[0], "q10": n.Low, "q50": reach(p, 0.5), "q90": n.High, "pmf": p})
}

func checkResidual(t *testing.T, c check) {
	i := in[struct {
		P     float64
		Found float64 `json:"seen_by_now"`
	}](t, c)
	c.compare(t, results{"risk": Residual(i.P, i.Found)})
}

func checkRank(t *testing.T, c check) {
	i := in[struct {
		Suspects []struct {
			Name            string
			Lower, Upper, P float64
		}
		Margin float64
	}](t, c)
	var ps []float64
	for _, s := range i.Suspects {
		ps = append(ps, s.P)
	}
	qs := Adjust(ps)
	var rows []Row
	for k, s := range i.Suspects {
		d := Interval{(s.Lower + s.Upper) / 2, s.Lower, s.Upper}
		rows = append(rows, Row{Difference: d.Bounds(), Q: &qs[k], Verdict: Judge(d, i.Margin, qs[k]), Detail: Detail{Name: s.Name}})
	}
	Rank(rows)
	var order, verdicts []string
	var adjusted []float64
	for _, r := range rows {
		order = append(order, r.Detail.Name)
		verdicts = append(verdicts, verdictWords[r.Verdict])
		adjusted = append(adjusted, *r.Q)
	}
	c.compare(t, results{"order": order, "verdict": verdicts, "adjusted_p": adjusted})
}
