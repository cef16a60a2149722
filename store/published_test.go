package store

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// Published data go in as spreadsheets and come out of the store as the
// published figures. ../testdata/statistics/README.md names each source; months
// and weeks are taken as days.

func publishedTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "statistics", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

var publishedDay = grow.DateOn(2025, time.January, 6)

func dayCell(t *testing.T, days string) string {
	t.Helper()
	if days == "" {
		return ""
	}
	n, err := strconv.Atoi(days)
	if err != nil {
		t.Fatal(err)
	}
	return (publishedDay + grow.Date(n)).String()
}

// imported is a farm made of nothing but a spreadsheet.
func imported(t *testing.T, sheet string) *labFarm {
	t.Helper()
	f := newLabFarm(t)
	if _, err := f.Import(t.Context(), f.by, []byte(sheet)); err != nil {
		t.Fatal(err)
	}
	f.sound()
	return f
}

// cosmesis is a spreadsheet of the cosmesis data; batchOf names the batch of a
// group.
func cosmesis(t *testing.T, batchOf func(group string) string) string {
	var b strings.Builder
	b.WriteString("batch,species,inoculated_on,not_colonised_on,colonised_on,condition:treatment\n")
	for _, row := range publishedTable(t, "cosmesis.csv") {
		group := strings.ReplaceAll(row["group"], "+", "_and_")
		fmt.Fprintf(&b, "%s,king oyster,%s,%s,%s,%s\n", batchOf(group), publishedDay, dayCell(t, row["left"]), dayCell(t, row["right"]), group)
	}
	return b.String()
}

// TestPublishedCosmesis: as one batch the bags are exchanged with each other, as
// the patients are in the permutation form of Sun's test: Z -2.6684, p .0076.
// Curves: Fay and Shaw 2010, Journal of Statistical Software 36(2), section 4.
func TestPublishedCosmesis(t *testing.T) {
	t.Parallel()
	f := imported(t, cosmesis(t, func(string) string { return "trial" }))
	got := f.compare(CompareQuery{By: "treatment", Event: trace.EventColonised})
	closeTo(t, "p", *got.P, .0076216377, 1e-5)
	if got.Verdict != trace.PointsTo || got.Method != trace.SunPermutation || got.Groups[0].Value != "radiotherapy" || got.Groups[0].Bags != 46 || got.Groups[1].Bags != 48 {
		t.Fatalf("%+v", got)
	}
	for day, share := range map[float64]float64{4: 0, 5: .0463, 7: .0463 + .0334, 8: .1684, 12: .1684 + .0708, 25: .3318, 34: .4136, 40: .5345, 48: 1} {
		closeTo(t, fmt.Sprintf("radiotherapy by %g", day), atDay(got.Groups[0].Curve, day), share, 2e-3)
	}
	for day, share := range map[float64]float64{5: .0433, 8: .0866, 12: .1558, 17: .3012, 19: .4423, 20: .5580, 25: .6579, 31: .7288, 36: .8896} {
		closeTo(t, fmt.Sprintf("with chemotherapy by %g", day), atDay(got.Groups[1].Curve, day), share, 2e-3)
	}
	if g := got.Groups[1]; *g.MedianLow != 19 || *g.MedianHigh != 20 || *g.MedianDays != 19.5 {
		t.Errorf("median with chemotherapy %v (%v to %v), want it in (19, 20]", *g.MedianDays, *g.MedianLow, *g.MedianHigh)
	}
}

// As two batches, each wholly one treatment, the same bags tell nothing: two
// batches can be exchanged in two ways, and both are as far apart.
func TestPublishedCosmesisInTwoBatches(t *testing.T) {
	t.Parallel()
	f := imported(t, cosmesis(t, func(group string) string { return group }))
	got := f.compare(CompareQuery{By: "treatment", Event: trace.EventColonised})
	if *got.P != 1 || got.Verdict != trace.CannotTell {
		t.Errorf("p %g, %s: one batch of each kind cannot point to anything", *got.P, got.Verdict)
	}
	closeTo(t, "radiotherapy by 40", atDay(got.Groups[0].Curve, 40), .5345, 2e-3)
}

// TestPublishedRemission: exact days and bags still running. Survival: Freireich
// et al. 1963, Blood 21:699-716, as quoted by Cox and Oakes. The log-rank test's
// p is 9.5e-5 (R, survdiff, permutation variance); with 21 bags a group it comes
// from 9,999 random arrangements, of which none should be as far apart.
func TestPublishedRemission(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("batch,species,inoculated_on,not_colonised_on,colonised_on,condition:drug\n")
	for _, row := range publishedTable(t, "remission.csv") {
		day, seen := dayCell(t, row["weeks"]), ""
		if row["relapse"] == "1" {
			seen = day
		}
		fmt.Fprintf(&b, "A,enoki,%s,%s,%s,%s\n", publishedDay, day, seen, map[string]string{"6-MP": "mercaptopurine", "control": "none"}[row["treat"]])
	}
	got := imported(t, b.String()).compare(CompareQuery{By: "drug", Event: trace.EventColonised})
	g := got.Groups[0]
	if g.Value != "mercaptopurine" || g.Bags != 21 || g.Events != 9 || g.Running != 12 {
		t.Fatalf("%+v", g)
	}
	for day, survival := range map[float64]float64{6: .857, 7: .807, 10: .753, 13: .690, 16: .627, 22: .538, 23: .448} {
		closeTo(t, fmt.Sprintf("in remission after %g", day), 1-atDay(g.Curve, day), survival, 2e-3)
	}
	if *got.P > .001 || got.Verdict != trace.PointsTo {
		t.Errorf("p %g", *got.P)
	}
}

// TestPublishedLitters: litters are batches, pups that died are contaminated bags
// (Weil 1970; Williams 1975, Biometrics 31:949-952). Difference .126 (-.033 to
// .283) with the litters' own spread; of fourteen of them, all 3,432 ways to hand
// out seven diets give p .0565 (R).
func TestPublishedLitters(t *testing.T) {
	t.Parallel()
	litters := publishedTable(t, "litters.csv")
	all := imported(t, litterSheet(t, litters))
	c, err := all.Contamination(t.Context(), ContaminationQuery{By: "diet"})
	if err != nil {
		t.Fatal(err)
	}
	r := rowOf(t, c.Rows, "diet", "treat")
	near(t, "difference", r.Difference.Estimate, .126320384, 1e-6)
	near(t, "low", r.Difference.Low, -.033147196, 1e-6)
	near(t, "high", r.Difference.High, .282782605, 1e-6)
	if r.Method != trace.BatchPermutation || r.Batches != 32 || r.With.Bags+r.Without.Bags != 303 {
		t.Errorf("%+v", r)
	}
	part := imported(t, litterSheet(t, append(append([]map[string]string{}, litters[6:13]...), litters[22:29]...)))
	if c, err = part.Contamination(t.Context(), ContaminationQuery{By: "diet"}); err != nil {
		t.Fatal(err)
	}
	r = rowOf(t, c.Rows, "diet", "treat")
	near(t, "difference of fourteen", r.Difference.Estimate, .126177, 1e-6)
	near(t, "p of fourteen", r.P, .0565268065, 1e-9)
}

func litterSheet(t *testing.T, litters []map[string]string) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("batch,species,inoculated_on,clean_on,contaminated_on,condition:diet\n")
	for k, row := range litters {
		pups, err := strconv.Atoi(row["pups"])
		if err != nil {
			t.Fatal(err)
		}
		alive, err := strconv.Atoi(row["survived"])
		if err != nil {
			t.Fatal(err)
		}
		for i := range pups {
			clean, bad := dayCell(t, "40"), ""
			if i >= alive {
				clean, bad = "", dayCell(t, "12")
			}
			fmt.Fprintf(&b, "litter %d,king oyster,%s,%s,%s,%s\n", k+1, publishedDay, clean, bad, row["group"])
		}
	}
	return b.String()
}
