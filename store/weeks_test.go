package store

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"bagmark/grow"
)

// TestPublishedCans: samples of cans are weeks of bags, leaking cans contaminated
// bags (Montgomery, Introduction to Statistical Quality Control). Weeks keep their
// order and counts; of thirty, the last twelve are judged by those before, whose
// mean is the centre.
func TestPublishedCans(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("batch,species,inoculated_on,clean_on,contaminated_on\n")
	var bad []int
	for k, row := range publishedTable(t, "cans.csv")[:30] {
		n, err := strconv.Atoi(row["nonconforming"])
		if err != nil {
			t.Fatalf("%v: %v", row, err)
		}
		bad = append(bad, n)
		made := publishedDay + grow.Date(7*k)
		for i := range 50 {
			if i < n {
				fmt.Fprintf(&b, "week %d,king oyster,%s,,%s\n", k+1, made, made+9)
			} else {
				fmt.Fprintf(&b, "week %d,king oyster,%s,%s,\n", k+1, made, made+30)
			}
		}
	}
	f := imported(t, b.String())
	w, err := f.Weeks(t.Context(), ContaminationQuery{})
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Weeks) != 30 || !w.Told || len(w.Chart.Points) != 30 || w.Chart.Base != 18 {
		t.Fatalf("%d weeks, %d points, %d of them the base", len(w.Weeks), len(w.Chart.Points), w.Chart.Base)
	}
	base := 0
	for i, week := range w.Weeks {
		if int(week.Bad) != bad[i] || week.Bags != 50 {
			t.Errorf("week %d: %g of %g, want %d of 50", i+1, week.Bad, week.Bags, bad[i])
		}
		if i < 18 {
			base += bad[i]
		}
	}
	closeTo(t, "centre", w.Chart.Centre, float64(base)/900, 1e-12)
	if w, err = f.Weeks(t.Context(), ContaminationQuery{Species: "flammulina-filiformis"}); err != nil || w.Told || len(w.Weeks) != 0 {
		t.Errorf("another species: %+v, %v", w, err)
	}
	_, err = f.Weeks(t.Context(), ContaminationQuery{Species: "x"})
	wantFields(t, "no species", err, "species")
}
