package server

import (
	"fmt"
	"net/http"
	"slices"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// reportPage is a batch's story on one sheet of paper.
type reportPage struct {
	frame
	store.BatchReport
	Made, Today grow.Date
	Usual       []string // conditions of the whole batch
	Differed    []departure
	Sentence    string // how many are in which state
	Mouldy      []mouldyBag
	Growth      string
	Harvest     string
	Rows        []traceRow
}

// departure is what was different about some of the bags.
type departure struct{ Words, Bags string }

// mouldyBag is a bag found contaminated.
type mouldyBag struct {
	Number int
	Day    int
	Words  string
}

func (s *Server) showReport(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	r, err := s.store.Report(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, farm, err := s.frame(c, "Report of "+string(r.Batch.Code))
	if err != nil {
		return err
	}
	p := reportPage{frame: f, BatchReport: r, Made: grow.DateOf(r.Batch.InoculatedAt, farm.Zone), Today: grow.DateOf(s.store.Now(), farm.Zone),
		Differed: departuresOf(r.Bags), Sentence: batchSentence(r.BatchWhole), Growth: r.Grown.Words(trace.EventColonised), Harvest: harvestWords(r, f.U)}
	for _, key := range farm.Conditions.Keys() {
		if v, ok := r.Batch.Conditions[key]; ok {
			p.Usual = append(p.Usual, conditionLabel(key, farm)+" "+plainWords(v))
		}
	}
	for _, b := range r.Bags {
		if b.Contaminated != nil {
			p.Mouldy = append(p.Mouldy, newMouldyBag(b, r.Batch, farm))
		}
	}
	for _, row := range r.Rows {
		p.Rows = append(p.Rows, traceRow{Row: row, Label: conditionLabel(row.Key, farm) + ": " + plainWords(row.Value), With: newWhisker(row.With), Without: newWhisker(row.Without)})
	}
	return s.show(c, http.StatusOK, "report", p)
}

// departuresOf gathers the bags that have the same departure, as their labels
// print it.
func departuresOf(bags []store.BatchBag) []departure {
	numbers := map[string][]int{}
	var words []string
	for _, b := range bags {
		for _, w := range b.Departures {
			if numbers[w] == nil {
				words = append(words, w)
			}
			numbers[w] = append(numbers[w], b.Number)
		}
	}
	slices.Sort(words)
	var out []departure
	for _, w := range words {
		out = append(out, departure{w, grow.BagRange(numbers[w])})
	}
	return out
}

func newMouldyBag(b store.BatchBag, batch store.Batch, farm *store.Farm) mouldyBag {
	e := grow.Entry{Kind: grow.KindContaminated, Details: grow.Details{What: b.Contaminated.What, Where: deref(b.Contaminated.Where)}}
	return mouldyBag{Number: b.Number, Day: grow.Day(batch.InoculatedAt, b.Contaminated.At, farm.Zone), Words: entryWords(e, farm.Writing)}
}

func harvestWords(r store.BatchReport, u grow.Units) string {
	if r.Picked == 0 {
		return ""
	}
	words := fmt.Sprintf("%s picked from %s", u.Weighed(r.Grams), plural(r.Picked, "bag", "bags"))
	if r.Efficiency != nil {
		words += fmt.Sprintf(": %.0f %[2]s for each 100 %[2]s of dry substrate in them (biological efficiency)", *r.Efficiency, u.Unit(grow.Kitchen))
	}
	return words + "."
}
