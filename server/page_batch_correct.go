package server

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// formTime is how a date and time input shows an instant.
const formTime = "2006-01-02T15:04:05"

// openedField is the field in which the form that corrects a batch carries what
// it was filled in with, so that what somebody else corrected meanwhile is told
// from what was left as it was.
const openedField = "opened"

// fieldsForm is a batch's fields as the form that corrects them.
func fieldsForm(b store.Batch, u grow.Units) form {
	v := fieldValues(b.Fields(), u)
	v.Set(openedField, v.Encode())
	return newForm(v)
}

// fieldValues are a batch's fields as the form shows them.
func fieldValues(f grow.BatchFields, u grow.Units) url.Values {
	v := url.Values{"species": {string(f.Species)}, "inoculated_at": {f.InoculatedAt.Format(formTime)}, "labels_later": {""}, "bag_wet_g": {""}}
	if f.BagWetG != nil {
		v.Set("bag_wet_g", u.MassTyped(*f.BagWetG, grow.Bucket))
	}
	for name, value := range map[string]*string{"strain": f.Strain, "lab_day": f.LabDay, "spawn_lot": f.SpawnLot, "steriliser_run": f.SteriliserRun, "substrate_lot": f.SubstrateLot,
		"recipe": f.Recipe, "operator": f.Operator, "place": f.Place, "note": f.Note} {
		v.Set(name, deref(value))
	}
	for name, value := range map[string]*float64{"moisture_pct": f.MoisturePct, "spawn_rate_pct": f.SpawnRatePct} {
		v.Set(name, "")
		if value != nil {
			v.Set(name, numberWords(*value))
		}
	}
	if f.LabelsLater != nil {
		v.Set("labels_later", f.LabelsLater.String())
	}
	for key, value := range f.Conditions {
		v.Set("conditions."+key, deref(value))
	}
	return v
}

func (s *Server) postBatchFields(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	_, err = s.store.PatchBatch(ctx, actorOf(c), code, func(f *grow.BatchFields) error {
		merged, err := mergeCorrections(v, fieldValues(*f, farm.Writing))
		if err != nil {
			return err
		}
		var p grow.Problems
		fields := parseBatchFields(merged, farm, &p, f.BagWetG)
		if merged.Get("inoculated_at") == f.InoculatedAt.Format(formTime) {
			fields.InoculatedAt = f.InoculatedAt // the form has no fractions, nor tells the two hours apart of a night when clocks go back
		}
		*f = fields
		return p.Err("this batch cannot be corrected like this")
	})
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/batches/"+string(code))
	}
	refused, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	whole, err2 := s.store.Batch(ctx, code)
	if err2 != nil {
		return err2
	}
	if errors.Is(err, errCorrected) { // who sends it again has seen what it is now
		refused.values.Set(openedField, fieldValues(whole.Batch.Fields(), farm.Writing).Encode())
	}
	return s.drawBatch(c, statusOf(grow.KindOf(err)), whole, &refused)
}

// errCorrected is the cause of a refusal: somebody else was faster.
var errCorrected = errors.New("corrected meanwhile")

// mergeCorrections gives what a form asks for, sent with what it was opened with,
// of a batch that is now so: fields left as they were stay as they are now. A
// field that two people changed differently is a conflict, and nothing is kept.
// A form that does not say what it was opened with overwrites.
func mergeCorrections(sent, now url.Values) (url.Values, error) {
	opened, err := url.ParseQuery(sent.Get(openedField))
	if err != nil || len(opened) == 0 {
		return sent, nil
	}
	out, names := maps.Clone(sent), maps.Clone(opened)
	maps.Copy(names, now)
	var p grow.Problems
	for name := range names {
		was, is, mine := sameText(opened.Get(name)), sameText(now.Get(name)), sameText(sent.Get(name))
		switch {
		case !sent.Has(name), mine == was:
			out.Set(name, now.Get(name))
		case is != was && is != mine:
			p.Add(name, "is %s by now; send this again to have %s", quoted(is), quoted(mine))
		}
	}
	if len(p) > 0 {
		return nil, &grow.Error{Kind: grow.Conflict, Fields: p, Cause: errCorrected,
			Message: "somebody else corrected this batch while this form was open; what you filled in is still here, what it is now stands beside it"}
	}
	return out, nil
}

// quoted is a field's text in a sentence.
func quoted(s string) string {
	if s == "" {
		return "empty"
	}
	return strconv.Quote(s)
}

// sameText is a text without what a browser does to it.
func sameText(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }
