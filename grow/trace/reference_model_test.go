package trace

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"
)

func checkRatio(t *testing.T, c check) {
	i := in[twoGroups](t, c)
	r, ok := Ratio(Counts{i.X1, i.N1}, Counts{i.X0, i.N0}, z975)
	if !ok {
		t.Fatal("no ratio")
	}
	c.compare(t, results{"ratio": r.Estimate, "lower": r.Low, "upper": r.High})
}

func checkAliases(t *testing.T, c check) {
	i := in[struct{ Columns json.RawMessage }](t, c)
	names, columns := orderedColumns(t, i.Columns)
	a := FindAliases(columns)
	var constants []string
	for _, k := range a.Constant {
		constants = append(constants, names[k])
	}
	var identical [][]string
	for _, g := range a.Identical {
		var ns []string
		for _, k := range g {
			ns = append(ns, names[k])
		}
		identical = append(identical, ns)
	}
	var want [][]string
	if err := json.Unmarshal(c.Expect["identical"], &want); err != nil {
		t.Fatal(err)
	}
	if len(identical) != len(want) || !slices.Equal(identical[0], want[0]) {
		t.Errorf("identical: got %v, want %v", identical, want)
	}
	c.compare(t, results{"constant": constants, "rank_with_intercept": a.Rank}, "identical")
}

// orderedColumns keeps the order in which an object's lists are written.
func orderedColumns(t *testing.T, raw json.RawMessage) (names []string, columns [][]float64) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(raw))
	if _, err := d.Token(); err != nil {
		t.Fatal(err)
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		var v vector
		if err := d.Decode(&v); err != nil {
			t.Fatal(err)
		}
		names, columns = append(names, key.(string)), append(columns, v)
	}
	return names, columns
}

func checkFirth(t *testing.T, c check) {
	i := in[struct {
		twoGroups
		Data, Y string
		X       []string
	}](t, c)
	names := i.X
	var patterns []Pattern
	if i.Data == "" {
		names = []string{"z"}
		patterns = []Pattern{{[]float64{1}, Counts{i.X1, i.N1}}, {[]float64{0}, Counts{i.X0, i.N0}}}
	} else {
		d := table(t, i.Data)
		y := numbers(t, d[i.Y])
		for k := range y {
			p := Pattern{Counts: Counts{y[k], 1}}
			for _, n := range names {
				p.X = append(p.X, numbers(t, d[n][k:k+1])...)
			}
			patterns = append(patterns, p)
		}
	}
	j, ok := FirthLogistic(patterns, 1, math.Inf(1))
	if !ok {
		t.Fatal("no fit")
	}
	r := results{"penalised_loglik": j.LogLik}
	for k, n := range append([]string{"intercept"}, names...) {
		b := j.Coefficients[k]
		r[n], r[n+"_lower"], r[n+"_upper"], r[n+"_p"] = b.Estimate, b.Low, b.High, b.P
	}
	c.compare(t, r)
}
