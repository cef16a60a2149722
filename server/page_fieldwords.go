package server

import (
	"strconv"
	"strings"
)

// fieldNames are the names of fields that do not explain themselves.
var fieldNames = map[string]string{
	"public": "address in the labels", "passphrase_again": "the passphrase once more", "owner_name": "your name", "role": "may", "token_role": "may",
	"inoculated_at": "inoculated", "made_on": "made on", "extent_pct": "share of the wall, in per cent", "pct": "share of the wall grown over, in per cent",
	"first_look_day": "day of the first hunt", "margin": "difference", "labels_later": "labels by", "default_sheet": "label sheet",
	"set": "what was different", "other": "code of the other label", "moisture_pct": "moisture", "spawn_rate_pct": "spawn",
	"token_name": "what is it for", "old": "the passphrase now", "new": "the new one", "device": "what is this phone called",
	"capacity_bags": "bags it takes", "buyer_lines": "your own words on a buyer's label", "open_by": "open by", "wet0": "weight", "moisture0": "its moisture", "target_pct": "moisture aimed at", "spawn_pct": "spawn", "oven_after": "after drying", "oven_before": "before drying", "until": "back on", "to": "to whom",
	"count": "how many", "sterile": "take sterile bags", "word": "what they say", "bags": "how many bags", "jars": "jars, bags or plates",
	"start": "first free label on the sheet", "copies": "copies of each",
	"about": "for about how many bags", "altitude_m": "height above the sea", "basis": "how do you know", "blank": "a blank label", "blanks": "codes of the blanks", "bag_wet_g": "bag, wet",
	"clock": "time of day", "co2": "carbon dioxide", "rh": "humidity", "temp": "temperature", "columns": "labels across", "rows": "labels down", "day": "answer on day", "each": "bags of each", "event": "what counts",
	"expires_on": "use by", "f0_target": "target under pressure", "f0_target_steam": "target of open steam", "target_f0": "target", "gauge_kpa": "gauge while held", "hold_c": "held at", "started_at": "started", "method": "how", "spot": "the probe sat", "position": "position in the load",
	"grams": "grams picked", "ounces": "ounces picked", "gross": "what the scale shows", "pounds": "pounds on the scale", "tare": "tare", "high": "latest", "low": "earliest", "typical": "usual", "key": "what was not as usual", "kind": "what it is", "label": "called", "level": "usually of", "normal": "normal value", "short": "on labels", "pen": "word of a pen box", "values": "values",
	"label_w_mm": "label across", "label_h_mm": "label down", "left_mm": "left margin", "top_mm": "top margin", "page_w_mm": "page across", "page_h_mm": "page down", "pitch_x_mm": "left edge to left edge", "pitch_y_mm": "top edge to top edge",
	"load": "load plan", "load_bags": "bags in one steriliser load", "look": "how it looks", "on": "day", "opening": "opened by", "operator": "who inoculated", "order": "dates are", "pair": "what is tried", "plan": "species", "plan_bags": "bags",
	"question": "the question", "ready": "ready means", "ripe_low": "ripe from", "ripe_high": "ripe to", "t_low": "temperature from", "t_high": "temperature to", "t_target": "target", "shows": "its clock", "zone": "its clock goes", "time": "date and time", "substrate_lot": "lot of substrate", "text": "note", "week": "week", "where": "where was it first", "why": "because", "at": "when", "anyway": "take it all the same",
}

// fieldWords turns the name of a field, as errors bear it, into what a page
// calls it: "batches[0].bag_conditions[0].bags" is "Row 1, different bags".
func fieldWords(field string) string {
	var words []string
	for part := range strings.SplitSeq(field, ".") {
		name, index, listed := strings.Cut(strings.TrimSuffix(part, "]"), "[")
		switch row, err := strconv.Atoi(index); {
		case listed && err == nil && name == "batches":
			words = append(words, "row "+strconv.Itoa(row+1))
		case name == "bag_conditions":
			words = append(words, "different")
		case name == "bags" && len(words) > 0: // of a row
			words = append(words, name)
		default:
			words = append(words, nameWords(name))
		}
	}
	return capital(strings.ReplaceAll(strings.Join(words, ", "), "different, ", "different "))
}

func nameWords(name string) string {
	if words, ok := fieldNames[name]; ok {
		return words
	}
	for prefix, words := range map[string]string{"low-": "from day, ", "high-": "to day, "} {
		if species, ok := strings.CutPrefix(name, prefix); ok {
			return words + strings.ReplaceAll(species, "-", " ")
		}
	}
	return strings.ReplaceAll(name, "_", " ")
}
