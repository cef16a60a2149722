package grow

// Keeps says how long a bag that is ready stands waiting in its plastic before
// it spoils: with too little room in the fruiting house the bags that keep least
// go first. The order is common practice.
type Keeps int

// The keepings, what spoils first first.
const (
	KeepsNot   Keeps = iota // pins are in the plastic already
	KeepsDays               // thin and fast species: they pin as soon as they are white
	KeepsWeeks              // firm blocks, such as king oyster
	KeepsLong               // those that ripen for weeks, such as shiitake
)

// The longest after-ripening, in days, of a species that keeps for days, and of
// one that keeps for a week or two.
const (
	ripensAtOnce = 5
	ripensSoon   = 14
)

// Keeps is how long a ready bag of the species keeps; pins tells whether it has
// pins by now. A species that stays white for weeks before anything shows is not
// in a hurry afterwards either.
func (s Species) Keeps(pins bool) Keeps {
	switch {
	case pins:
		return KeepsNot
	case s.RipeningDays.High <= ripensAtOnce && s.Pace != Slow:
		return KeepsDays
	case s.RipeningDays.High <= ripensSoon:
		return KeepsWeeks
	}
	return KeepsLong
}

// Words say why a bag comes where it does in the list.
func (k Keeps) Words() string {
	switch k {
	case KeepsNot:
		return "pins in the plastic"
	case KeepsDays:
		return "keeps for days only"
	case KeepsWeeks:
		return "keeps a week or two"
	}
	return "keeps for weeks"
}

// String is the word of a keeping in the API.
func (k Keeps) String() string {
	return [...]string{"not", "days", "weeks", "long"}[k]
}
