package server

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// A buyer's label says what somebody at home needs to know of a bag: no code of
// the farm's, nothing of how it was made.

// buyerRequest says whose labels, and what stands on them.
type buyerRequest struct {
	LabelRequest
	Species  grow.Slug  // where no bags are named
	Grams    float64    // 0: the wet weight of the batch's bags, or none
	PackedOn *grow.Date // today unless given
	OpenBy   *grow.Date // not said unless given
}

func (q *query) buyerLabels() buyerRequest {
	r := buyerRequest{LabelRequest: q.labels(), Species: grow.Slug(q.text("species")), PackedOn: q.date("packed_on"), OpenBy: q.date("open_by")}
	r.Codes, r.Grams = q.codes(), float64(q.number("grams", 0, 100_000))
	switch {
	case len(r.Codes) == 0 && r.Species == "":
		q.problems.Add("species", "is missing: the species, or codes of bags")
	case r.OpenBy != nil && r.PackedOn != nil && *r.OpenBy < *r.PackedOn:
		q.problems.Add("open_by", "is before the day it is packed")
	}
	return r
}

// getBuyerLabels prints labels for those who buy bags.
func (s *Server) getBuyerLabels(c echo.Context) error {
	q := queryOf(c)
	r := q.buyerLabels()
	if err := q.err(); err != nil {
		return err
	}
	if err := bePatient(c, printPatience); err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	job := labels.Job{Start: r.Start, Copies: r.Copies}
	if job.Sheet, job.Correction, err = stockOf(ctx, s.store, farm, r.Sheet); err != nil {
		return err
	}
	if r.PackedOn == nil {
		r.PackedOn = new(grow.DateOf(s.store.Now(), farm.Zone))
	}
	if job.Labels, err = s.buyerLabels(ctx, farm, r); err != nil {
		return err
	}
	pdf, err := job.PDF()
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `inline; filename="buyer-labels.pdf"`)
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}

func (s *Server) buyerLabels(ctx context.Context, farm *store.Farm, r buyerRequest) ([]labels.Label, error) {
	if len(r.Codes) == 0 {
		if !farm.Knows(r.Species) {
			p := grow.Problems{"species": "is not a species this farm knows"}
			return nil, p.Err("these labels cannot be printed")
		}
		species, _ := farm.SpeciesOf(r.Species, nil)
		return []labels.Label{buyerLabel(species, farm, r, r.Grams)}, nil
	}
	var out []labels.Label
	for _, code := range r.Codes {
		b, err := s.store.Bag(ctx, code)
		if err != nil {
			return nil, err
		}
		if b.Contaminated != nil {
			p := grow.Problems{"codes": nameOfBag(b) + " is mouldy: it is not for sale"}
			return nil, p.Err("these labels cannot be printed")
		}
		grams := r.Grams
		if grams == 0 && b.Batch.BagWetG != nil {
			grams = *b.Batch.BagWetG
		}
		out = append(out, buyerLabel(b.Species, farm, r, grams))
	}
	return out, nil
}

func buyerLabel(species grow.Species, farm *store.Farm, r buyerRequest, grams float64) labels.Label {
	l := labels.Label{Name: strings.ToUpper(species.Name), Date: labelDate(*r.PackedOn), Number: buyerMass(grams, farm.Writing)}
	keep := "Keep cool."
	if r.OpenBy != nil {
		keep = "Keep cool, open by " + r.OpenBy.Time().Format("2 Jan 2006") + "."
	}
	colours := "green or pink"
	if species.Slug == "pleurotus-djamor" { // its own mycelium turns pink
		colours = "green or black"
	}
	l.Lines = []string{keep, "If anything " + colours + " grows in it: keep it shut and put it in the bin."}
	for line := range strings.Lines(farm.BuyerLines) {
		l.Lines = append(l.Lines, strings.TrimSpace(line))
	}
	return l
}

// buyerMass is a mass as a label has it; "" for none. Where food is weighed in ounces,
// labels state grams beside them (common practice; local rules decide).
func buyerMass(grams float64, u grow.Units) string {
	switch {
	case grams <= 0:
		return ""
	case u.Weight == grow.ImperialWeight:
		return u.Mass(grams) + " (" + buyerMass(math.Round(grams), grow.Units{}) + ")"
	case grams >= 1000:
		return numberWords(grams/1000) + " kg"
	}
	return fmt.Sprintf("%.0f g", grams)
}
