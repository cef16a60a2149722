package store

import (
	"crypto/sha256"
	"slices"

	"bagmark/grow"
)

// takeWaiting fills each draft of a lab day whose place in the list names a run
// with waiting sterile bags of it: the first numbers take them. No bags said are
// all that wait. drafts stay as they were sent, out are what is to be made; sums
// tell a lab day sent again by what was sent, as other bags wait by then.
func (t *tx) takeWaiting(drafts []grow.BatchDraft, waiting map[int]grow.Code) (out []grow.BatchDraft, sums [][]byte, problems map[int]string, err error) {
	problems = map[int]string{}
	var taken []grow.Code
	for i, d := range drafts {
		sum, err := sentSum(d)
		if err != nil {
			return nil, nil, nil, err
		}
		if run, ok := waiting[i]; ok {
			both := sha256.Sum256(append(sum, run...))
			sum = both[:]
			problem, err := t.fillFrom(&d, run, &taken)
			if err != nil {
				return nil, nil, nil, err
			}
			if problem != "" {
				problems[i] = problem
			}
		}
		out, sums = append(out, d), append(sums, sum)
	}
	return out, sums, problems, nil
}

// fillFrom gives a draft waiting bags of a run, none that is taken already.
func (t *tx) fillFrom(d *grow.BatchDraft, code grow.Code, taken *[]grow.Code) (problem string, err error) {
	if bags, err := t.bagsMadeUnder(d.ID); bags > 0 || err != nil {
		d.Bags = max(bags, d.Bags)
		return "", err
	}
	run, err := t.findRun(string(code))
	if grow.KindOf(err) == grow.NotFound {
		return "is no steriliser run of this farm", nil
	}
	if err != nil {
		return "", err
	}
	var name string
	if err := t.one(`SELECT name FROM steriliser_runs WHERE id = ?`, []any{run}, &name); err != nil {
		return "", err
	}
	if same, err := t.isRun(d.SteriliserRun, run); err != nil {
		return "", err
	} else if !same {
		return "were steamed in " + RunName(name) + ", but the steriliser run above says " + *d.SteriliserRun + ": empty that, or make these in a lab day of their own", nil
	}
	list, err := t.waiting(run)
	if err != nil {
		return "", err
	}
	list = slices.DeleteFunc(list, func(c grow.Code) bool { return slices.Contains(*taken, c) })
	if len(list) == 0 {
		return "has no sterile bag left: look on the page of " + RunName(name), nil
	}
	if d.Bags == 0 {
		d.Bags = len(list)
	}
	d.Blanks = list[:min(max(d.Bags, 0), len(list))]
	*taken = append(*taken, d.Blanks...)
	return "", nil
}

// isRun tells whether what somebody said of the steriliser run is that run, or
// nothing.
func (t *tx) isRun(said *string, run int64) (bool, error) {
	if said == nil {
		return true, nil
	}
	named, err := t.findRun(*said)
	if grow.KindOf(err) == grow.NotFound {
		return false, nil
	}
	return named == run, err
}

// waiting are the sterile bags of a run that a batch may take, in the order of
// their making.
func (t *tx) waiting(run int64) (out []grow.Code, err error) {
	list, err := t.texts(`SELECT s.code FROM sterile_bags s LEFT JOIN stock_status k ON k.code = s.code WHERE s.run_id = ? AND `+stillWaiting+` ORDER BY s.made_at, s.code`, run)
	for _, code := range list {
		out = append(out, grow.Code(code))
	}
	return out, err
}

// bagsMadeUnder is how many bags the batch made under an id has, 0 if none was.
func (t *tx) bagsMadeUnder(id *grow.ID) (bags int, err error) {
	if id == nil {
		return 0, nil
	}
	parsed, err := grow.ParseID(string(*id))
	if err != nil {
		return 0, nil // said where drafts are held to their rules
	}
	err = t.one(`SELECT coalesce(max(bags), 0) FROM batches WHERE uuid = ?`, []any{string(parsed)}, &bags)
	return bags, err
}
