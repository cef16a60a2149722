package grow

import "slices"

// CautionTopic names a kind of work that can hurt someone.
type CautionTopic string

// The topics.
const (
	CautionSpores    CautionTopic = "spores"
	CautionMould     CautionTopic = "mould"
	CautionPressure  CautionTopic = "pressure"
	CautionAlcohol   CautionTopic = "alcohol"
	CautionMouldyBag CautionTopic = "mouldy_bag"
	CautionAir       CautionTopic = "air"
	CautionRoom      CautionTopic = "room"
	CautionHotLoads  CautionTopic = "hot_loads"
	CautionUV        CautionTopic = "uv"
	CautionCO2       CautionTopic = "carbon_dioxide"
	CautionLifting   CautionTopic = "lifting"
	CautionChemicals CautionTopic = "chemicals"
	CautionFood      CautionTopic = "food"
)

// Caution is the usual caution about one topic. Line is for the first time,
// Short for every time after; both end by deferring to those who decide.
type Caution struct {
	Topic CautionTopic `json:"topic"`
	Title string       `json:"title"`
	Line  string       `json:"line"`
	Short string       `json:"short"`
}

// How every caution ends.
const (
	deference      = " This is only the usual caution: local codes and licensed or qualified people decide."
	deferenceShort = " Local codes and qualified people decide."
)

// Cautions are all cautions, in the order in which a page lists them.
func Cautions() []Caution {
	out := slices.Clone(cautions)
	for i := range out {
		out[i].Line += deference
		out[i].Short += deferenceShort
	}
	return out
}

// CautionOf looks up the caution about a topic.
func CautionOf(topic CautionTopic) (Caution, bool) {
	return find(Cautions(), func(c Caution) bool { return c.Topic == topic })
}

// cautions without their endings. Common practice.
var cautions = []Caution{
	{CautionSpores, "Spores in the growing room",
		"Mushrooms shed spores into the room's air, and lungs that have learned to react to them may do so for life. Pick early, keep the air moving out, wear the mask that local rules name. Fever or a cough some hours after work: stop, and see a doctor.",
		"Spores: pick early, ventilate, wear a mask; see a doctor about cough or fever after work."},
	{CautionMould, "Mould",
		"Leave a mouldy bag closed: no opening, no smelling, no squeezing. With asthma, lung disease or weak immunity, leave the carrying to somebody else.",
		"Mouldy bag: keep it closed, do not smell or squeeze it."},
	{CautionPressure, "Pressure vessels and steam",
		"Steam under pressure has killed people. Work only with a vessel that was built for it, is inspected and has its relief valve; leave every valve as it was made; wait until the gauge is at zero; open the lid away from yourself. A load stays boiling hot for hours, and steam scalds before you see it.",
		"Steam: sound vessel, untouched valves, gauge at zero, lid away from you."},
	{CautionAlcohol, "Alcohol and flame",
		"The vapour of alcohol catches fire and its flame is hard to see. Keep burners, hot loops and the sealing bar away from wet gloves, freshly sprayed bags and open bottles, and wait until hands and film are dry.",
		"Alcohol: nothing hot or burning near wet gloves, sprayed bags or an open bottle."},
	{CautionMouldyBag, "Handling a mouldy bag",
		"Pressing or shaking a mouldy bag drives spores out through its filter. Go from clean and young bags to watched ones, and to mouldy ones last; afterwards change gloves, wipe the phone, and do not go back to the flow hood.",
		"Do not press or shake it. Mouldy bags last; then fresh gloves, a wiped phone and no more bench work."},
	{CautionAir, "Air between rooms",
		"Let filtered air in so that pressure is highest in the lab, less in the incubator, then outside; fruiting is lowest, on extract. Over-pressure in a room with mouldy bags blows spores out at its door. Scrubbing the air takes out no carbon dioxide. Seal used filters in a bag, with a mask on.",
		"Air: from lab to incubator to outside; bag used filters with a mask on."},
	{CautionRoom, "Insulated rooms",
		"Insulation foam burns with poisonous smoke, so a heater needs a guard, a cut-out and an electrician. The door must open from inside, a carbon dioxide alarm belongs in the room, and nobody works in it alone.",
		"Insulated room: guarded heater, door that opens from inside, alarm, never alone."},
	{CautionHotLoads, "Hot bags",
		"A bag fresh from the steriliser is soft, may burst and scalds. Let the load cool first, and keep your face turned away while you unload.",
		"Hot bags burst and scald: let them cool, face away."},
	{CautionUV, "Ultraviolet lamps",
		"A germ-killing lamp harms eyes and skin within seconds to minutes. It is off, and locked off by the door, before anybody goes in; and what lies in its shadow stays unclean.",
		"Ultraviolet: lamp off and locked off before anybody goes in."},
	{CautionCO2, "Carbon dioxide",
		"Bags breathe: a closed room passes the limit for workplaces within hours, a packed one in about an hour, and nobody smells it. Air the room before working, measure, get out at a headache or short breath, and never go in alone.",
		"Carbon dioxide: air the room, measure, leave at a headache, never alone."},
	{CautionLifting, "Lifting and racks",
		"A rack full of 2 to 3 kg bags weighs hundreds of kilograms. Fill it from the bottom, fix it to the wall, and carry few bags at a time.",
		"Racks are heavy: fill low first, fix them, lift little."},
	{CautionChemicals, "Chemicals and electricity",
		"Bleach and lime call for gloves and eye protection, and bleach is never mixed with an acid. Heaters and lights over wet floors belong on protected circuits that an electrician has made.",
		"Gloves and goggles; never mix bleach with acid; protected circuits over wet floors."},
	{CautionFood, "Selling food",
		"Being sure of the species, hygiene, cooling, allergen words and labels are matters of law where you sell. A log of bags is not a food safety system. What may be said of reishi or lion's mane and health is regulated.",
		"Food law where you sell comes first; this log is no food safety system."},
}
