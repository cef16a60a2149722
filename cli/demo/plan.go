package demo

import "bagmark/grow"

// The plan says what was made on which day. Days are counted back from today:
// whatever today is, the farm's last eight months look the same.

// plan is one batch to be made.
type plan struct {
	ago    int // days before today on which it was inoculated
	kind   string
	bags   int
	lot    string // "" for the lot in use
	recipe string // "" for the usual one
	// conditions are what was not as usual for the whole batch, own for some of
	// its bags.
	conditions map[string]string
	own        []grow.BagConditions
	blanks     int // bags that take labels printed ahead
	note       string
	clean      bool // no mould but what its story brings
	story      func(*batch)
	trial      string // a question: half of the bags, drawn at random, are not shaken
}

// aside are conditions of some bags of a batch.
func aside(bags, key, value string) []grow.BagConditions {
	return []grow.BagConditions{{Bags: bags, Conditions: map[string]*string{key: &value}}}
}

const (
	badLot    = "OY-X1"
	newRecipe = "oak 65, soy hull 35"

	shortRunMade, shortRunRead = 63, 61
)

// plans are the farm's batches, the oldest first. Batches of one day are one
// lab day.
var plans = []plan{
	{ago: 238, kind: "oyster", bags: 14},
	{ago: 231, kind: "king", bags: 14},
	{ago: 231, kind: "lion", bags: 12},
	{ago: 224, kind: "oyster", bags: 16},
	{ago: 217, kind: "enoki", bags: 14},
	{ago: 210, kind: "shiitake", bags: 16},
	{ago: 210, kind: "oyster", bags: 16, own: aside("5", "bag", "patched")},
	{ago: 203, kind: "king", bags: 16},
	{ago: 196, kind: "oyster", bags: 18},
	{ago: 196, kind: "lion", bags: 12},
	{ago: 189, kind: "beech", bags: 14},
	{ago: 182, kind: "oyster", bags: 16},
	{ago: 182, kind: "king", bags: 14, own: aside("2,3", "seal", "taped")},
	{ago: 175, kind: "shiitake", bags: 16},
	{ago: 168, kind: "oyster", bags: 18},
	{ago: 161, kind: "lion", bags: 14, own: aside("9", "filter", "wet")},
	{ago: 161, kind: "enoki", bags: 14},
	{ago: 154, kind: "oyster", bags: 18},
	{ago: 147, kind: "king", bags: 18},
	{ago: 140, kind: "oyster", bags: 16},
	{ago: 140, kind: "shiitake", bags: 16},
	{ago: 133, kind: "oyster", bags: 18, own: aside("4-6", "seal", "taped")},
	{ago: 126, kind: "lion", bags: 14},
	{ago: 119, kind: "oyster", bags: 20, lot: badLot, recipe: newRecipe, clean: true, story: mouldFromSpawn(8), note: "First batch with soy hull."},
	{ago: 115, kind: "oyster", bags: 20, lot: badLot, recipe: newRecipe, clean: true, story: mouldFromSpawn(7)},
	{ago: 112, kind: "oyster", bags: 18, lot: badLot, recipe: newRecipe, clean: true, story: mouldFromSpawn(8)},
	{ago: 112, kind: "king", bags: 16},
	{ago: 108, kind: "oyster", bags: 18, lot: badLot, recipe: newRecipe, clean: true, story: mouldFromSpawn(7), note: "Last of the soy hull, and of lot " + badLot + "."},
	{ago: 105, kind: "beech", bags: 14},
	{ago: 98, kind: "oyster", bags: 18},
	{ago: 91, kind: "king", bags: 18},
	{ago: 91, kind: "enoki", bags: 14},
	{ago: 84, kind: "beech", bags: 14},
	{ago: 84, kind: "oyster", bags: 18},
	{ago: 77, kind: "lion", bags: 14},
	{ago: 70, kind: "shiitake", bags: 18, story: comeBackToday},
	{ago: 70, kind: "oyster", bags: 18},
	{ago: 63, kind: "enoki", bags: 12, clean: true, story: wetSpots(12)},
	{ago: 63, kind: "king", bags: 12, clean: true, story: wetSpots(12)},
	{ago: 63, kind: "lion", bags: 10, clean: true, story: wetSpots(9)},
	{ago: 56, kind: "oyster", bags: 18},
	{ago: 56, kind: "beech", bags: 14},
	{ago: 49, kind: "oyster", bags: 20, clean: true, trial: "How much longer does oyster take if the bag is not shaken?"},
	{ago: 42, kind: "lion", bags: 14},
	{ago: 35, kind: "oyster", bags: 16},
	{ago: 35, kind: "shiitake", bags: 18, story: mistakenForMould},
	{ago: 30, kind: "king", bags: 16, clean: true, story: twoLate},
	{ago: 26, kind: "enoki", bags: 14},
	{ago: 24, kind: "king", bags: 16},
	{ago: 21, kind: "lion", bags: 12, clean: true, story: soldAtMarket},
	{ago: 17, kind: "oyster", bags: 18, clean: true, story: readyWithPins},
	{ago: 14, kind: "king", bags: 24, clean: true, story: hoodOff, note: "The hood's breaker had tripped; seen at bag 12."},
	{ago: 14, kind: "lion", bags: 14, clean: true, story: thinAndOnTime},
	{ago: 12, kind: "oyster", bags: 16, clean: true, story: threeSlow},
	{ago: 10, kind: "oyster", bags: 20, clean: true, story: aboutSix, blanks: 8, own: aboutSixOff,
		note: "Hood was off for about six, nobody knows which."},
	{ago: 7, kind: "enoki", bags: 18, clean: true, story: firstHunt},
	{ago: 5, kind: "shiitake", bags: 12, clean: true, story: labelsLater, note: "Made while the tablet was flat; labels come with the next roll. Until then: SHII on the film in marker pen."},
	{ago: 2, kind: "oyster", bags: 20, clean: true, story: sixUnmarked},
}

var off = "off"

var aboutSixOff = []grow.BagConditions{{About: 6, Conditions: map[string]*string{"flow_hood": &off}}}
