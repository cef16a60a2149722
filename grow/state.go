package grow

import "time"

// State is where a bag stands on its way from the bench to fruiting or out.
type State string

// The states. Unmarked: no one has scanned its label or had it in the hand yet.
const (
	Unmarked   State = "unmarked"
	Colonising State = "colonising"
	Colonised  State = "colonised"
	Isolated   State = "isolated"
	Fruiting   State = "fruiting"
	Finished   State = "finished"
	Culled     State = "culled"
)

// States are all states, in the order of a bag's life.
var States = []State{Unmarked, Colonising, Colonised, Isolated, Fruiting, Finished, Culled}

// Out tells whether a bag in this state has left the farm's care.
func (s State) Out() bool { return s == Culled || s == Finished }

// GrownOverPct is the share of the wall from which a bag counts as grown over.
const GrownOverPct = 99

// Status is what replaying a bag's log gives.
type Status struct {
	State        State          `json:"state"`
	ColonisedPct *float64       `json:"colonised_pct"`
	Contaminated *Contamination `json:"contaminated"`
	Watch        *Watch         `json:"watch"`
	Again        *Again         `json:"again"`
	Place        string         `json:"place"` // "" when nobody said
	// FruitedIn is where it stood when it was first picked, until then where it
	// fruits: moved off a trolley it fruits on its rack, and what becomes of the
	// block afterwards is no matter. "" for a bag that never fruited.
	FruitedIn  string     `json:"fruited_in,omitempty"`
	MarkedAt   *time.Time `json:"marked_at"`
	LastSeenAt *time.Time `json:"last_seen_at"`
	NeedsLabel bool       `json:"needs_label"`

	// Set are the conditions set or corrected by entries, the latest of each key.
	// SetBefore are those that stood when it was first found contaminated.
	Set       map[string]Setting `json:"set,omitempty"`
	SetBefore map[string]Setting `json:"set_before,omitempty"`
	// ContaminatedSeq is the place in the order received of the entry that first
	// found it contaminated.
	ContaminatedSeq int64 `json:"contaminated_seq,omitempty"`
	// LabelledAt is when the farm received the latest word that the printed
	// label is on the bag; zero if nobody said.
	LabelledAt *time.Time `json:"labelled_at"`
	// LastInHandAt is the latest time someone had the bag, InHandAfterMark
	// whether that was ever so after it was marked.
	LastInHandAt    *time.Time `json:"last_in_hand_at"`
	InHandAfterMark bool       `json:"in_hand_after_mark"`
	Turned          bool       `json:"turned"` // turned in the hand at least once
	NotYetAt        *time.Time `json:"not_yet_at"`
	// ReadPct and ReadAt are the latest estimate of the wall; a later "not fully"
	// without an estimate leaves them.
	ReadPct     *float64   `json:"read_pct"`
	ReadAt      *time.Time `json:"read_at"`
	GrownOverAt *time.Time `json:"grown_over_at"`
	LastCleanAt *time.Time `json:"last_clean_at"`
	PinsAt      *time.Time `json:"pins_at"`
	IsolatedAt  *time.Time `json:"isolated_at"`
	FruitingAt  *time.Time `json:"fruiting_at"`
	EndedAt     *time.Time `json:"ended_at"`
	EndedWhy    string     `json:"ended_why,omitempty"`
	StartedAt   *time.Time `json:"started_at"`
	Grams       float64    `json:"grams"`
	Flush       int        `json:"flush"`
	Picks       []Pick     `json:"picks,omitempty"` // the harvests, in the log\'s order
	BenchAt     *time.Time `json:"bench_at"`        // scanned live as it left the bench
}

// HeardLate tells that a condition's value was heard of only after the bag was
// found contaminated: it may have been filled in because of what was seen.
func (s Status) HeardLate(set Setting) bool {
	return s.Contaminated != nil && set.Seq > s.ContaminatedSeq
}

// Contamination is what was seen: At is the first such entry not voided, What
// and Where the latest given.
type Contamination struct {
	What  string    `json:"what"`
	Where *string   `json:"where"`
	At    time.Time `json:"at"`
	// ReceivedAt is when the farm heard of the first of them.
	ReceivedAt time.Time `json:"received_at"`
}

// Watch says that a bag is looked at more often, and why.
type Watch struct {
	Because string    `json:"because"`
	Of      Code      `json:"of,omitempty"` // the bag it shares something with
	Since   time.Time `json:"since"`
}

// Again says when to come back to a bag, what for and why not before.
type Again struct {
	On      Date      `json:"on"`
	For     string    `json:"for"`
	Because string    `json:"because,omitempty"`
	At      time.Time `json:"at"`
}

// Setting is a condition's value as an entry gave it. Value is nil for unknown.
type Setting struct {
	Value      *string   `json:"value"`
	Basis      string    `json:"basis"`
	At         time.Time `json:"at"`
	ReceivedAt time.Time `json:"received_at"`
	Seq        int64     `json:"seq"` // of the entry that gave it
}

// Pick is one harvest of a bag: which flush it was, counted from 1.
type Pick struct {
	At    time.Time `json:"at"`
	Grams float64   `json:"grams"`
	Flush int       `json:"flush"`
}
