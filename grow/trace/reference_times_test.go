package trace

import (
	"encoding/json"
	"math"
	"testing"
)

type timesInput struct {
	Data, Group string
	Left, Right vector
	Z, Stratum  json.RawMessage
}

// timeData are the spans of a check, which of them are marked, and their strata.
func timeData(t *testing.T, c check) (spans []Span, marks []bool, strata []int) {
	t.Helper()
	i := in[timesInput](t, c)
	add := func(left, right float64, mark bool) {
		spans, marks = append(spans, Span{left, right}), append(marks, mark)
	}
	switch i.Data {
	case "cosmesis.csv":
		d := table(t, i.Data)
		left, right := numbers(t, d["left"]), numbers(t, d["right"])
		for k, g := range d["group"] {
			if i.Group == "" || i.Group == g {
				add(left[k], right[k], g == "radiotherapy")
			}
		}
	case "remission.csv":
		d := table(t, i.Data)
		weeks, relapse := numbers(t, d["weeks"]), numbers(t, d["relapse"])
		for k, g := range d["treat"] {
			right := math.Inf(1)
			if relapse[k] == 1 {
				right = weeks[k]
			}
			add(weeks[k], right, g == "6-MP")
		}
	default:
		var z, s vector
		if len(i.Z) > 0 {
			must(t, json.Unmarshal(i.Z, &z))
		}
		if len(i.Stratum) > 0 {
			must(t, json.Unmarshal(i.Stratum, &s))
		}
		for k := range i.Left {
			add(i.Left[k], i.Right[k], len(z) > 0 && z[k] == 1)
			if len(s) > 0 {
				strata = append(strata, int(s[k]))
			}
		}
	}
	return spans, marks, strata
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// tight goes on until the masses themselves are as the reference gives them.
func tight(spans []Span) Curve { return turnbull(spans, 1e-11, 400_000) }

func checkTurnbull(t *testing.T, c check) {
	spans, _, _ := timeData(t, c)
	curve := tight(spans)
	var from, to, mass []float64
	for _, m := range curve.Masses {
		if m.Share > 1e-9 {
			from, to, mass = append(from, m.From), append(to, m.To), append(mass, m.Share)
		}
	}
	c.compare(t, results{"from": from, "to": to, "mass": mass, "loglik": curve.LogLik})
	quick := Turnbull(spans)
	if quick.Excess >= mostExcess || quick.LogLik < curve.LogLik-mostExcess {
		t.Errorf("stopped early: excess %g, log-likelihood %g of %g", quick.Excess, quick.LogLik, curve.LogLik)
	}
	for _, m := range curve.Masses {
		if got, want := survivalOf(quick, m.To), survivalOf(curve, m.To); math.Abs(got-want) > 2e-3 {
			t.Errorf("survival after %g: got %g, want %g", m.To, got, want)
		}
	}
}

func checkScores(t *testing.T, c check) {
	spans, marks, strata := timeData(t, c)
	scores := Scores(spans, tight(spans))
	r := NormalScoreTest(scores, marks, strata)
	c.compare(t, results{"score_sum": r.Sum, "Z": r.Z, "p": r.P, "first_scores": scores, "observed_minus_expected": r.Sum})
}

func checkExactScores(t *testing.T, c check) {
	spans, marks, _ := timeData(t, c)
	scores := Scores(spans, tight(spans))
	us := make([]unit, len(scores))
	for i, s := range scores {
		us[i] = unit{score: s, group: order(!marks[i])}
	}
	r := NormalScoreTest(scores, marks, nil)
	c.compare(t, results{"first_scores": scores, "p_exact": exchangeUnits(us, 2, true).p, "arrangements": arrangements(us), "Z": r.Z})
}

func checkKaplanMeier(t *testing.T, c check) {
	i := in[timesInput](t, c)
	d := table(t, i.Data)
	weeks, relapse := numbers(t, d["weeks"]), numbers(t, d["relapse"])
	var es []Ending
	for k, g := range d["treat"] {
		if g == i.Group {
			es = append(es, Ending{weeks[k], int(relapse[k])})
		}
	}
	var day, risk, survival, se []float64
	for _, x := range AalenJohansen(es, 1) {
		day, risk = append(day, x.Day), append(risk, float64(x.AtRisk))
		survival, se = append(survival, x.Running), append(se, x.SE)
		if math.Abs(1-x.Share-x.Running) > 1e-12 {
			t.Errorf("day %g: share %g and running %g do not add up", x.Day, x.Share, x.Running)
		}
	}
	c.compare(t, results{"t": day, "at_risk": risk, "survival": survival, "se": se})
}

func checkIncidence(t *testing.T, c check) {
	i := in[struct {
		Data      string
		T, At     vector
		Cause, Of json.RawMessage
	}](t, c)
	if i.Data == "" {
		var cause vector
		must(t, json.Unmarshal(i.Cause, &cause))
		var es []Ending
		for k := range i.T {
			es = append(es, Ending{i.T[k], int(cause[k])})
		}
		var day, share, se, running []float64
		for _, x := range AalenJohansen(es, 1) {
			day, share, se, running = append(day, x.Day), append(share, x.Share), append(se, x.SE), append(running, x.Running)
		}
		c.compare(t, results{"t": day, "cif": share, "se": se, "still_running": running})
		return
	}
	d := table(t, i.Data)
	months, cause := numbers(t, d["months"]), numbers(t, d["cause"])
	var es []Ending
	for k := range months {
		es = append(es, Ending{months[k], int(cause[k])})
	}
	r := results{}
	for kind, suffix := range map[int]string{1: "_1", 2: "_2"} {
		var share, se []float64
		steps := AalenJohansen(es, kind)
		for _, at := range i.At {
			k := 0
			for k+1 < len(steps) && steps[k+1].Day <= at {
				k++
			}
			share, se = append(share, steps[k].Share), append(se, steps[k].SE)
		}
		r["cif"+suffix], r["se"+suffix] = share, se
	}
	c.compare(t, r)
}

// survivalOf is the share without the event after day t; inside a mass it counts as not yet.
func survivalOf(c Curve, t float64) float64 {
	s := 1.0
	for _, m := range c.Masses {
		if m.To <= t {
			s -= m.Share
		}
	}
	return math.Max(0, s)
}
