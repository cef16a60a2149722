package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"io"
	"math/rand/v2"
	"strings"
	"time"
	"unicode/utf8"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// Trial rules
//
// The question, the two values, what is waited for and the day of the answer are
// set before the bags are made and never changed after. Which bag gets which
// value is drawn at random, as many of each; their labels print it. The answer is
// given once, from its day on, and stays as it was given. Looking before that day
// is allowed and counted.

// TrialDraft is a trial as somebody asks for it.
type TrialDraft struct {
	grow.BatchFields
	ID             grow.ID // of its batch
	Question       string
	Key            string // a condition
	Value, Against string // what is tried, and what it is compared with
	Each           int    // bags of each
	Event          trace.Event
	Day            int // of the batch's life, on which it is answered
}

// Trial is a trial as it stands.
type Trial struct {
	Batch          Batch
	Question       string
	Key            string
	Value, Against string
	Event          trace.Event
	Day            int
	On             grow.Date // the day of the answer
	Due            bool      // that day has come
	MadeAt         time.Time
	MadeBy         string
	Looks          int // before the answer
	AnsweredAt     *time.Time
	Answer         *TrialAnswer
}

// TrialAnswer is what the records say of the two groups. Row answers for
// contamination, Times for growth.
type TrialAnswer struct {
	Words string       `json:"words"`
	Row   *trace.Row   `json:"row,omitempty"`
	Times *trace.Times `json:"times,omitempty"`
}

const (
	mostTrialEach = grow.MostBags / 2
	mostTrialDay  = 400
	mostQuestion  = 200
)

// validate names every faulty field of the trial's own; those of its batch are
// named when the batch is made.
func (d TrialDraft) validate(f *Farm) error {
	var p grow.Problems
	if d.Question == "" || utf8.RuneCountInString(d.Question) > mostQuestion {
		p.Add("question", "must be 1 to %d characters", mostQuestion)
	}
	if d.Each < 2 || d.Each > mostTrialEach {
		p.Add("each", "must be 2 to %d", mostTrialEach)
	}
	if d.Event != trace.EventContaminated && d.Event != trace.EventColonised {
		p.Add("event", "must be contaminated or colonised")
	}
	if d.Day < 1 || d.Day > mostTrialDay {
		p.Add("day", "must be 1 to %d", mostTrialDay)
	}
	c, ok := f.Conditions[d.Key]
	if !ok {
		p.Add("key", "is not a condition of this farm")
		return p.Err("this trial cannot be begun as it is")
	}
	for field, value := range map[string]string{"value": d.Value, "against": d.Against} {
		if v, err := c.Value(&value); err != nil || v == nil {
			p.Add(field, "must be one of %s", strings.Join(c.Values, ", "))
		}
	}
	if d.Value == d.Against {
		p.Add("against", "must be another value than the one that is tried")
	} else if c.Printed(&d.Value) == c.Printed(&d.Against) {
		p.Add("key", "prints the same on both labels; say first what is normal about it, under Conditions")
	}
	return p.Err("this trial cannot be begun as it is")
}

// CreateTrial makes a trial with its batch. The same id again gives the trial
// made before and created false.
func (s *Store) CreateTrial(ctx context.Context, by Actor, d TrialDraft) (out Trial, created bool, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, false, err
	}
	if err := d.validate(farm); err != nil {
		return out, false, err
	}
	batch, err := s.assign(d)
	if err != nil {
		return out, false, err
	}
	if err := batch.Validate(s.now(), farm.Knows, farm.Conditions); err != nil {
		return out, false, err
	}
	sent, err := sentSum(batch)
	if err != nil {
		return out, false, err
	}
	err = s.writing(ctx, func(t *tx) error {
		if out, err = t.trial(farm, `b.uuid = ?`, strings.ToLower(string(d.ID))); grow.KindOf(err) != grow.NotFound {
			return err
		}
		b, _, _, err := t.createBatch(farm, by, batch, sent)
		if err != nil {
			return err
		}
		created = true
		if _, err := t.exec(`INSERT INTO trials (batch_id, question, key, value, against, event, day, made_at, made_by) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			b.row, d.Question, d.Key, d.Value, d.Against, string(d.Event), d.Day, micros(t.now), by.Person); err != nil {
			return err
		}
		out, err = t.trial(farm, `b.id = ?`, b.row)
		return err
	})
	return out, created, err
}

// assign draws which bags get which value, as many of each.
func (s *Store) assign(d TrialDraft) (grow.BatchDraft, error) {
	var seed [32]byte
	if _, err := io.ReadFull(s.random, seed[:]); err != nil {
		return grow.BatchDraft{}, noRandom(err)
	}
	numbers := rand.New(rand.NewChaCha8(seed)).Perm(2 * d.Each)
	for i := range numbers {
		numbers[i]++
	}
	out := grow.BatchDraft{ID: &d.ID, BatchFields: d.BatchFields, Bags: 2 * d.Each, BagConditions: []grow.BagConditions{
		{Bags: grow.BagRange(numbers[:d.Each]), Conditions: map[string]*string{d.Key: &d.Value}},
		{Bags: grow.BagRange(numbers[d.Each:]), Conditions: map[string]*string{d.Key: &d.Against}},
	}}
	return out, nil
}

// trials reads the trials that a WHERE … ORDER BY … clause picks.
func (t *tx) trials(f *Farm, where string, args ...any) (out []Trial, err error) {
	var rows []int64
	err = t.each(`SELECT t.batch_id, t.question, t.key, t.value, t.against, t.event, t.day, t.made_at, t.made_by, t.looks, t.answered_at, t.answer
		FROM trials t JOIN batches b ON b.id = t.batch_id WHERE `+where, args, func(r *sql.Rows) error {
		var v Trial
		var batch, made int64
		var answered *int64
		var answer *string
		if err := r.Scan(&batch, &v.Question, &v.Key, &v.Value, &v.Against, &v.Event, &v.Day, &made, &v.MadeBy, &v.Looks, &answered, &answer); err != nil {
			return err
		}
		v.MadeAt, v.AnsweredAt = instant(made, f.Zone), timeIn(timeOr(answered), f.Zone)
		rows, out = append(rows, batch), append(out, v)
		if answer == nil {
			return nil
		}
		return json.Unmarshal([]byte(*answer), &out[len(out)-1].Answer)
	})
	for i := range out {
		if err == nil {
			out[i].Batch, err = t.batch(f, `b.id = ?`, rows[i])
			out[i].On = grow.DateOf(out[i].Batch.InoculatedAt, f.Zone) + grow.Date(out[i].Day)
			out[i].Due = out[i].Batch.Day >= out[i].Day
		}
	}
	return out, err
}

func (t *tx) trial(f *Farm, where string, args ...any) (Trial, error) {
	list, err := t.trials(f, where, args...)
	if err == nil && len(list) == 0 {
		err = grow.Errorf(grow.NotFound, "there is no such trial")
	}
	if err != nil {
		return Trial{}, err
	}
	return list[0], nil
}

// Trials lists all trials, the newest first.
func (s *Store) Trials(ctx context.Context) (out []Trial, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.trials(farm, `1 ORDER BY t.id DESC`)
		return err
	})
	return out, err
}

// Trial gives the trial of a batch.
func (s *Store) Trial(ctx context.Context, code grow.BatchCode) (out Trial, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.trial(farm, `b.code = ?`, string(code))
		return err
	})
	return out, err
}
