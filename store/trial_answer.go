package store

import (
	"context"
	"encoding/json"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// LookEarly gives what the records say before the day of the answer, and counts
// the look.
func (s *Store) LookEarly(ctx context.Context, code grow.BatchCode) (out Trial, so TrialAnswer, err error) {
	farm, v, err := s.openTrial(ctx, code)
	if err == nil && (v.Due || v.Answer != nil) {
		err = grow.Errorf(grow.Conflict, "the day of this trial's answer has come: there is nothing to look at early any more")
	}
	if err != nil {
		return v, so, err
	}
	if so, err = s.trialAnswer(ctx, farm, v); err != nil {
		return v, so, err
	}
	err = s.writing(ctx, func(t *tx) error {
		if _, err := t.exec(`UPDATE trials SET looks = looks + 1 WHERE batch_id = ? AND answer IS NULL`, v.Batch.row); err != nil {
			return err
		}
		out, err = t.trial(farm, `b.id = ?`, v.Batch.row)
		return err
	})
	return out, so, err
}

// AnswerTrial gives the answer, once, from its day on. Asked again it gives the
// same.
func (s *Store) AnswerTrial(ctx context.Context, code grow.BatchCode) (Trial, error) {
	farm, v, err := s.openTrial(ctx, code)
	if err != nil || v.Answer != nil {
		return v, err
	}
	if !v.Due {
		return v, grow.Errorf(grow.Conflict, "this trial is answered on %s, day %d, and not before; that was settled before it began", v.On, v.Day)
	}
	answer, err := s.trialAnswer(ctx, farm, v)
	if err != nil {
		return v, err
	}
	text, err := json.Marshal(answer)
	if err != nil {
		return v, err
	}
	err = s.writing(ctx, func(t *tx) error {
		if _, err := t.exec(`UPDATE trials SET answer = ?, answered_at = ? WHERE batch_id = ? AND answer IS NULL`, string(text), micros(t.now), v.Batch.row); err != nil {
			return err
		}
		v, err = t.trial(farm, `b.id = ?`, v.Batch.row)
		return err
	})
	return v, err
}

func (s *Store) openTrial(ctx context.Context, code grow.BatchCode) (*Farm, Trial, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, Trial{}, err
	}
	v, err := s.Trial(ctx, code)
	return farm, v, err
}

// trialAnswer compares the two groups as the records stand. Contamination is
// counted by the trial's own day.
func (s *Store) trialAnswer(ctx context.Context, f *Farm, v Trial) (TrialAnswer, error) {
	r, bags, err := s.recordsFor(ctx, f, ContaminationQuery{Batch: v.Batch.Code})
	if err != nil {
		return TrialAnswer{}, err
	}
	column := r.column(f, v.Key, bags)
	column.Normal, column.Only = v.Against, v.Value
	for i, e := range column.Values {
		if e.Value != v.Value && e.Value != v.Against {
			column.Values[i].Value = "" // corrected to something else: not in the trial
		}
	}
	if v.Event == trace.EventColonised {
		times := trace.CompareTimes(column, v.Event, timed(bags, column, v.Event))
		return TrialAnswer{Words: times.Words, Times: &times}, nil
	}
	counted := r.traceBags(bags)
	for i := range counted {
		counted[i].Horizon = v.Day
	}
	rows := trace.Compare(counted, []trace.Column{column}, f.Margin)
	if len(rows) == 0 {
		return TrialAnswer{Words: "Nothing to compare: no bag has a recorded value."}, nil
	}
	return TrialAnswer{Words: rows[0].Words, Row: &rows[0]}, nil
}
