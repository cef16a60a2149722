package grow

import "slices"

// Contaminant is one kind of contamination as a grower sees it, always through
// the closed bag. The looks and days are common practice unless a source is
// named; days count from inoculation at 20 to 25 °C.
type Contaminant struct {
	What     string   `json:"what"` // the key that entries use
	Label    string   `json:"label"`
	Organism string   `json:"organism"` // "" where not known
	Look     string   `json:"look"`
	First    string   `json:"first_seen"`
	Where    []string `json:"where"` // keys of [WherePart], likeliest first
	PointsTo string   `json:"points_to"`
	// OutToday: it makes loose spores, so the bag leaves the farm closed, today.
	OutToday bool   `json:"out_today"`
	Do       string `json:"do"`
	Source   string `json:"source,omitempty"` // of the figures and looks that are published
}

// WherePart is a part of a bag where contamination is seen first.
type WherePart struct {
	Where string `json:"where"`
	Label string `json:"label"`
}

// SignWord is something worth remembering that is not contamination, with what
// it usually is and how to tell it from something worse. Common practice.
type SignWord struct {
	Sign      string `json:"sign"`
	Label     string `json:"label"`
	UsuallyIs string `json:"usually_is"`
	TellApart string `json:"tell_apart,omitempty"`
}

// Pattern is what several bad bags have in common in the records, where that
// points, and what to look at next. It points to, it never proves. Common
// practice.
type Pattern struct {
	Seen     string `json:"seen"`
	PointsTo string `json:"points_to"`
	LookAt   string `json:"look_at"`
}

const (
	doOutToday = "Keep it closed. Throw it out closed today, in a second closed bag, as the last job, away from where the lab draws its air. Then wash and change gloves."
	doSetApart = "Keep it closed. Set it apart from clean bags and look again in a day or two. Wash and change gloves."
	// KeepClosed is the rule that stands beside every suspect bag.
	KeepClosed = "Never open, smell, shake, squeeze or cut a suspect bag to find out what it is."
)

// Whats are the keys of contaminations, in the order in which pages offer them.
func Whats() []string { return keysOf(contaminants, func(c Contaminant) string { return c.What }) }

// Wheres are the keys of the parts of a bag, from top to bottom, then the rest.
func Wheres() []string { return keysOf(whereParts, func(w WherePart) string { return w.Where }) }

// Signs are the keys of signs, in the order in which pages offer them.
func Signs() []string { return keysOf(signWords, func(s SignWord) string { return s.Sign }) }

// IsWhat tells whether key is one of [Whats].
func IsWhat(key string) bool { _, ok := ContaminantOf(key); return ok }

// Contaminants are all kinds. The caller owns the copy.
func Contaminants() []Contaminant {
	out := slices.Clone(contaminants)
	for i := range out {
		out[i].Where = slices.Clone(out[i].Where)
	}
	return out
}

// WhereParts are all parts of a bag. The caller owns the copy.
func WhereParts() []WherePart { return slices.Clone(whereParts) }

// SignWords are all signs. The caller owns the copy.
func SignWords() []SignWord { return slices.Clone(signWords) }

// Patterns are the usual patterns of bad bags. The caller owns the copy.
func Patterns() []Pattern { return slices.Clone(patterns) }

// ContaminantOf looks up a kind by its key.
func ContaminantOf(what string) (Contaminant, bool) {
	return find(Contaminants(), func(c Contaminant) bool { return c.What == what })
}

// WhereOf looks up a part of a bag by its key.
func WhereOf(where string) (WherePart, bool) {
	return find(whereParts, func(w WherePart) bool { return w.Where == where })
}

// SignOf looks up a sign by its key.
func SignOf(sign string) (SignWord, bool) {
	return find(signWords, func(s SignWord) bool { return s.Sign == sign })
}

func keysOf[T any](list []T, key func(T) string) []string {
	keys := make([]string, len(list))
	for i, v := range list {
		keys[i] = key(v)
	}
	return keys
}

func find[T any](list []T, is func(T) bool) (T, bool) {
	if i := slices.IndexFunc(list, is); i >= 0 {
		return list[i], true
	}
	var none T
	return none, false
}

var contaminants = []Contaminant{
	{
		What: "green_mould", Label: "green mould", Organism: "Trichoderma",
		Look:  "A dense patch of brighter white than the mycelium, its edge turning yellowish and then green; all of it within two or three days.",
		First: "day 5 to 14; again in an old bag or at the first flush",
		Where: []string{"spawn_points", "seal", "top", "bottom_corner", "hole"}, PointsTo: "the spawn lot; hands or air; a core that was not sterilised through; a pinhole",
		OutToday: true, Do: doOutToday,
	},
	{
		What: "blue_green_mould", Label: "blue-green mould", Organism: "Penicillium",
		Look:  "Small round powdery spots, blue-green with a white rim. They spread slowly, about 2 mm a day at best.",
		First: "day 5 to 14",
		Where: []string{"spawn_points", "top", "filter"}, PointsTo: "the spawn; air at inoculation; a damp filter",
		OutToday: true, Do: doOutToday, Source: seenMoulds,
	},
	{
		What: "powdery_mould", Label: "powdery mould", Organism: "Aspergillus",
		Look:  "Powder in yellow-green, tan or black, often on the grain, and more in warm bags: it grows fastest near 31 °C and still at 40 °C.",
		First: "day 4 to 10",
		Where: []string{"spawn_points", "side"}, PointsTo: "the grain spawn; too warm a room. Treat it as hazardous",
		OutToday: true, Do: doOutToday + " Anyone with asthma, lung disease or weak immunity keeps away.", Source: seenMoulds,
	},
	{
		What: "black_pin_mould", Label: "black pin mould", Organism: "Rhizopus, Mucor",
		Look:  "Coarse, tall grey fluff with black heads like pins; it races, about 9 mm a day and more.",
		First: "day 2 to 5",
		Where: []string{"top", "spawn_points"}, PointsTo: "the grain spawn; wet substrate; a core above 35 °C",
		OutToday: true, Do: doOutToday, Source: seenMoulds,
	},
	{
		What: "orange_mould", Label: "orange mould", Organism: "Neurospora",
		Look:  "Coral-orange powder at the seal and the filter. It races, most of all in the hot season.",
		First: "day 2 to 4",
		Where: []string{"seal", "filter", "hole"}, PointsTo: "a weak seal; a wet filter; poor sterilising; an earlier outbreak in the building",
		OutToday: true, Do: doOutToday, Source: seenTradePage,
	},
	{
		What: "cobweb", Label: "cobweb", Organism: "Cladobotryum (Dactylium)",
		Look:  "A thin grey web that lies over white growth.",
		First: "after opening, or from day 10 where the air is very wet",
		Where: []string{"top", "filter"}, PointsTo: "stale wet air; spores carried on hands; seldom the steriliser",
		Do: doSetApart,
	},
	{
		What: "wet_spot", Label: "wet spot", Organism: "Bacillus and other bacteria",
		Look:  "A grey, slimy, greasy-wet patch at which white growth stops; grains look glassy. The smell is known from opened grain: do not open a bag for it.",
		First: "day 1 to 3",
		Where: []string{"spawn_points", "bottom_corner", "all_over"}, PointsTo: "heat-resistant spores that survived (run too short, too cold, load too tight); wet spawn",
		Do: doSetApart, Source: seenTradePage,
	},
	{
		What: "yeast", Label: "yeast", Organism: "yeasts",
		Look:  "A dull smear, cream to pink, with fluid. Slow.",
		First: "day 3 to 10",
		Where: []string{"spawn_points", "bottom"}, PointsTo: "the spawn; liquid culture; wet substrate",
		Do: doSetApart,
	},
	{
		What: "other", Label: "something else",
		Look:     "Anything else that is plainly wrong, such as mites: fine dust that moves, tracks through white growth, mould in trails from bag to bag (week 2 to 6, at filter and seal).",
		First:    "any day",
		PointsTo: "for mites: insects and mites in the room; expect many bags at once",
		Do:       doSetApart,
	},
	{
		What: "unsure", Label: "not sure",
		Look:     "A colour or a patch that you do not know.",
		First:    "any day",
		PointsTo: "nothing yet",
		Do:       "Keep it closed. Mark the place on the film, take a photo, set the bag apart and look again in a day or two.",
	},
}

var whereParts = []WherePart{
	{"top", "top"}, {"filter", "at the filter"}, {"seal", "at the seal"}, {"fold", "in a fold"}, {"side", "side"}, {"bottom", "bottom"},
	{"bottom_corner", "bottom corner"}, {"spawn_points", "round the spawn grains"}, {"hole", "at a hole"}, {"edge_of_growth", "edge of the white growth"},
	{"under_label", "under the label"}, {"all_over", "all over"},
}

var signWords = []SignWord{
	{"started", "growth started", "White fuzz on the grains: the spawn is awake.", ""},
	{"no_growth", "no growth yet", "Too early, a cold room or a slow species. If sisters of the same age have started: weak spawn, or a bag that was too warm.", "Compare it with bags of the same batch."},
	{"condensation", "condensation", "A warm bag in a cooler room.", "Drops run and move; a wet spot is a smear that stays."},
	{"metabolites", "yellow or amber drops", "Fluid that mycelium sweats out; where parts are bare or the room is warm it can also mean stress.", "Clear, no coloured patch, white growth all round. Look beside the drops for mould; cloudy fluid with grey slime is a wet spot."},
	{"cloudy_fluid", "cloudy fluid", "Milky grey at the bottom is ordinary for pink oyster; elsewhere suspect bacteria.", "With a grey slimy patch it is a wet spot."},
	{"dry_patch", "dry patch", "Drying at a poor seal or a torn filter, or a core that ran warm.", "Pale and shrunken, without powder or colour."},
	{"browning", "browning", "Ripening: shiitake, black poplar, enoki and nameko brown.", "Even and leathery; mould is powdery."},
	{"tint", "tint (pink, yellow, blue-green)", "Pink or golden oyster's own colour, or a bruise.", "It matches the species; no powder, no round rim."},
	{"fluff", "white fluff at the filter", "Mycelium growing into the air where carbon dioxide is high.", "White and attached; cobweb is grey and lies over the growth."},
	{"pins", "pins", "First mushrooms: time to move the bag.", "Knobs or pins with a shape, never powder."},
	{"stalled", "stands still", "Lion's mane, golden, king and maitake seem to stand still and finish in a few days; else cold, want of air, a dry or a wet patch.", "Judge it by its own species and age; hold a torch behind it."},
	{"thin", "thin growth", "The way of lion's mane, golden, king and maitake.", "Judge it by its own species and age; hold a torch behind it."},
	{"leak", "leak", "A pinhole or a poor seal: mould or bacteria may follow.", "Wet outside the film; look for the hole with the bag closed."},
	{"puffed", "puffed up", "A blocked or wet filter, or gas from bacteria or yeast.", "Do not press it. With slime or cloudy fluid suspect a wet spot or yeast."},
	{"hot", "hot", "Bags that stand too close: growth heats the core. A very white coat, much condensation and a dry centre go with it.", "Warmer to the hand than its neighbours; give it room and air."},
	{"flies", "flies", "Fungus gnats or other flies from outside or from old blocks; they carry mites and mould.", ""},
	{"mites", "mites", "Fine dust that moves, tracks through white growth, mould in trails between bags.", "Through the film, with a magnifier; look at the neighbours."},
}

var patterns = []Pattern{
	{"one bag, one spot at a fold, a hole or a corner", "that bag's film or seal", "the other bags from the same box"},
	{"bags of one stretch of the bench, or of one hour", "the flow hood, hands, gloves or air", "the hood, who worked, the order on the bench"},
	{"all bags of one spawn lot, over several steriliser runs", "the spawn", "other batches from the lot, and the culture it came from"},
	{"all bags of one steriliser run, with several spawn lots", "the steriliser", "how it was loaded, its temperature log and lethality"},
	{"only bags from one position in the steriliser", "a cold spot", "where in the load they stood"},
	{"only bags near one place in the room", "a leak, a fan, pests or heat there", "place, shelf and the days of moving"},
	{"bottom corners only, and late", "perhaps only the last bare place", "was it shaken? how far grown over?"},
}

const seenMoulds = "Journal of Fungi 2023, 9: 294, Table 5"
