package grow

import (
	"cmp"
	"maps"
	"slices"
	"time"
)

// Replay rules
//
// The log's order is when a thing was seen, then when the farm received it. An
// entry that the state at its place does not allow changes nothing. Replay
// never fails. States come from a few facts, looked at in this order: ended
// (culled, finished), set apart, fruiting, the latest word on growth, and
// whether anybody has had the bag at all. Moving to fruiting or picking from a
// bag that was set apart ends that.

// Start is what a bag has before its log begins.
type Start struct {
	// MarkedAt is set for a bag taken over from other records, which counts as
	// marked.
	MarkedAt *time.Time
	Place    string // where its batch stands
	// Given are the known values the bag was made with, its own before its
	// batch's.
	Given map[string]string
	// LabelChangedAt is when the farm last received a change of the batch that
	// is printed on labels.
	LabelChangedAt *time.Time
}

// InOrder sorts a log in place: by the time seen, then by the order received.
func InOrder(log []Entry) {
	slices.SortStableFunc(log, func(a, b Entry) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Seq, b.Seq))
	})
}

// Replay gives a bag's status after its log, and writes into the log, which
// must be in order, which entries fit and which are voided.
func Replay(start Start, log []Entry, conditions Conditions) Status {
	markVoided(log)
	return replayMarked(start, log, conditions)
}

// replayMarked is Replay for a log whose voided entries are marked already.
func replayMarked(start Start, log []Entry, conditions Conditions) Status {
	r := newReplay(start, conditions)
	for i := range log {
		e := &log[i]
		e.Fits = true
		if e.Kind == KindVoid {
			r.tookBack(log, *e)
			continue
		}
		if e.VoidedBy != "" {
			continue
		}
		if Allowed(r.state(), e.Kind) != nil {
			e.Fits = false
			continue
		}
		r.apply(*e)
	}
	return r.finish()
}

// Allowed is nil if a bag in this state can take an entry of this kind, else
// the refusal that says which state stands in the way.
func Allowed(s State, kind EntryKind) error {
	if s.Out() {
		switch kind {
		case KindHarvest, KindFruiting, KindIsolate, KindRelease, KindShake, KindMove, KindCull, KindFinish:
			return Errorf(Conflict, "this bag is %s, so %s cannot be logged; take that back first if it was a mistake", s, kind.noun())
		}
	}
	if kind == KindRelease && s != Isolated {
		return Errorf(Conflict, "this bag is %s, not isolated, so it cannot be brought back", s)
	}
	return nil
}

func (k EntryKind) noun() string {
	switch k {
	case KindHarvest:
		return "a harvest"
	case KindFruiting:
		return "a move to fruiting"
	case KindIsolate:
		return "setting it apart"
	case KindRelease:
		return "bringing it back"
	case KindShake:
		return "a shake"
	case KindMove:
		return "a move"
	case KindCull:
		return "a cull"
	case KindFinish:
		return "a finish"
	}
	return "an entry " + string(k)
}

func markVoided(log []Entry) {
	by := map[ID]ID{}
	for _, e := range log {
		if e.Kind == KindVoid {
			by[e.Entry] = e.ID
		}
	}
	for i := range log {
		log[i].VoidedBy = by[log[i].ID]
	}
}

// replay is the status under way with what only replaying needs to remember.
type replay struct {
	Status
	start      Start
	conditions Conditions
	isolated   bool
	fruiting   bool
	grownOver  bool
	ended      State
	firstHand  *Entry
	labelled   *Entry
	changes    []Entry // condition entries that a label prints or printed
	tookBacks  []tookBack
}

// tookBack is a condition entry that a label may show though it was voided.
type tookBack struct{ was, by Entry }

func newReplay(start Start, conditions Conditions) *replay {
	return &replay{Status: Status{Place: start.Place, MarkedAt: start.MarkedAt, Set: map[string]Setting{}}, start: start, conditions: conditions}
}

func (r *replay) state() State {
	switch {
	case r.ended != "":
		return r.ended
	case r.isolated:
		return Isolated
	case r.fruiting:
		return Fruiting
	case r.MarkedAt == nil:
		return Unmarked
	case r.grownOver:
		return Colonised
	}
	return Colonising
}

// apply changes the status by an entry that fits.
func (r *replay) apply(e Entry) {
	at := e.At
	r.seen(e)
	switch e.Kind {
	case KindMarked:
		r.labelled = latestReceived(r.labelled, e)
		if e.Bench {
			r.BenchAt = &at
		}
	case KindLook:
		r.Turned = r.Turned || e.Seen == "turned"
	case KindColonised:
		r.colonised(e)
	case KindContaminated:
		r.contaminated(e)
	case KindSign:
		r.sign(e)
	case KindCondition:
		r.condition(e)
	case KindWatch:
		r.Watch = &Watch{Because: e.Because, Of: e.Of, Since: at}
	case KindUnwatch:
		r.Watch = nil
	case KindAgain:
		r.Again = &Again{On: *e.On, For: cmp.Or(e.For, "look"), Because: e.Because, At: at}
	case KindMove:
		r.Place = e.Place
	case KindIsolate:
		r.isolated, r.IsolatedAt = true, &at
	case KindRelease:
		r.isolated, r.IsolatedAt = false, nil
	case KindFruiting:
		r.toFruiting(e)
		r.Place = cmp.Or(e.Place, r.Place)
	case KindHarvest:
		r.harvest(e)
	case KindCull, KindFinish:
		r.end(e)
	}
	if r.state() == Fruiting && r.Grams == 0 {
		r.FruitedIn = r.Place
	}
}

// seen keeps who saw the bag when. A glance counts as seen, not as in hand.
func (r *replay) seen(e Entry) {
	at := e.At
	if e.Kind == KindLook && !e.InHand() {
		r.LastSeenAt = &at
		r.clean(e)
	}
	if !e.InHand() {
		return
	}
	if r.MarkedAt == nil {
		r.MarkedAt, r.firstHand = &at, &e
	}
	r.InHandAfterMark = r.InHandAfterMark || e.Kind != KindMarked
	r.LastSeenAt, r.LastInHandAt = &at, &at
	r.clean(e)
}

// clean notes a look at a bag that was not contaminated by then. Losing a bag
// is no look at it, and throwing it out as contaminated none at a clean one.
func (r *replay) clean(e Entry) {
	lost := e.Kind == KindFinish && e.Why == "lost"
	bad := e.Kind == KindContaminated || e.Kind == KindCull && e.Why == "contaminated"
	if r.Contaminated == nil && !bad && !lost {
		at := e.At
		r.LastCleanAt = &at
	}
}

func (r *replay) colonised(e Entry) {
	at := e.At
	r.ColonisedPct = e.Pct
	if e.Pct != nil {
		r.ReadPct, r.ReadAt = e.Pct, &at
	}
	was := r.grownOver
	r.grownOver = e.Pct != nil && *e.Pct >= GrownOverPct
	switch {
	case !r.grownOver:
		r.NotYetAt, r.GrownOverAt = &at, nil
	case !was:
		r.GrownOverAt = &at
	}
}

func (r *replay) contaminated(e Entry) {
	if r.Contaminated == nil {
		r.Contaminated = &Contamination{At: e.At, ReceivedAt: e.ReceivedAt}
		r.ContaminatedSeq, r.SetBefore = e.Seq, maps.Clone(r.Set)
	}
	r.Contaminated.What = e.What
	if e.Where != "" {
		where := e.Where
		r.Contaminated.Where = &where
	}
}

func (r *replay) sign(e Entry) {
	at := e.At
	switch {
	case e.Sign == "pins" && r.PinsAt == nil:
		r.PinsAt = &at
	case e.Sign == "started" && r.StartedAt == nil:
		r.StartedAt = &at
	}
}

func (r *replay) condition(e Entry) {
	c := r.conditions[e.Key]
	if c.Printed(e.Value.Known) != c.Printed(r.value(e.Key)) || c.Printed(e.Value.Known) != "" {
		r.changes = append(r.changes, e)
	}
	r.Set[e.Key] = Setting{Value: e.Value.Known, Basis: cmp.Or(e.Basis, "recorded"), At: e.At, ReceivedAt: e.ReceivedAt, Seq: e.Seq}
}

// tookBack notes a void of a condition entry that was printed or hid what was.
func (r *replay) tookBack(log []Entry, void Entry) {
	i := slices.IndexFunc(log, func(e Entry) bool { return e.ID == void.Entry })
	if i < 0 || log[i].Kind != KindCondition {
		return
	}
	c := r.conditions[log[i].Key]
	if c.Printed(log[i].Value.Known) != c.Printed(r.value(log[i].Key)) || c.Printed(log[i].Value.Known) != "" {
		r.tookBacks = append(r.tookBacks, tookBack{was: log[i], by: void})
	}
}

// value is what the bag's condition is so far.
func (r *replay) value(key string) *string {
	if s, ok := r.Set[key]; ok {
		return s.Value
	}
	if v, ok := r.start.Given[key]; ok {
		return &v
	}
	return nil
}

func (r *replay) toFruiting(e Entry) {
	at := e.At
	r.isolated, r.IsolatedAt = false, nil
	if !r.fruiting {
		r.fruiting, r.FruitingAt = true, &at
	}
}

func (r *replay) harvest(e Entry) {
	r.toFruiting(e)
	if r.Grams == 0 {
		r.FruitedIn = r.Place
	}
	r.Grams += *e.Grams
	if e.Flush != nil {
		r.Flush = *e.Flush
	} else {
		r.Flush = min(r.Flush+1, MostFlushes)
	}
	r.Picks = append(r.Picks, Pick{At: e.At, Grams: *e.Grams, Flush: r.Flush})
}

func (r *replay) end(e Entry) {
	at := e.At
	r.ended = Culled
	if e.Kind == KindFinish {
		r.ended = Finished
	}
	r.EndedAt, r.EndedWhy = &at, e.Why
}

func (r *replay) finish() Status {
	r.State = r.state()
	switch {
	case r.State.Out():
		r.Watch, r.Again = nil, nil
	case r.Watch == nil && r.Contaminated != nil && r.State != Isolated:
		r.Watch = &Watch{Because: "contaminated", Since: r.Contaminated.At}
	}
	if r.labelled == nil {
		r.labelled = r.firstHand
	}
	if r.labelled != nil {
		received := r.labelled.ReceivedAt
		r.LabelledAt = &received
		r.NeedsLabel = r.printedSince(received)
	}
	return r.Status
}

// printedSince tells whether something printed on the label was received after
// the label was last known to be on the bag.
func (r *replay) printedSince(labelled time.Time) bool {
	if c := r.start.LabelChangedAt; c != nil && c.After(labelled) {
		return true
	}
	later := func(e Entry) bool {
		return e.ReceivedAt.After(labelled) || e.ReceivedAt.Equal(labelled) && e.Seq > r.labelled.Seq
	}
	return slices.ContainsFunc(r.changes, later) ||
		slices.ContainsFunc(r.tookBacks, func(b tookBack) bool { return later(b.by) && !later(b.was) })
}

func latestReceived(was *Entry, e Entry) *Entry {
	if was != nil && was.Seq > e.Seq {
		return was
	}
	return &e
}
