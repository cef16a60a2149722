package server

import (
	"strconv"
	"strings"
)

// fieldNames are the names of fields that do not explain themselves.
var fieldNames = map[string]string{
	"public": "address in the labels", "passphrase_again": "the passphrase once more", "owner_name": "your name",
	"inoculated_at": "inoculated", "made_on": "made on", "extent_pct": "share of the wall, in per cent", "pct": "share of the wall, in per cent",
	"first_look_day": "day of the first hunt", "margin": "difference that matters", "labels_later": "labels by", "default_sheet": "label sheet",
	"set": "what was different", "other": "code of the other label", "bag_wet_g": "bag, wet", "moisture_pct": "moisture", "spawn_rate_pct": "spawn rate",
	"token_name": "what the token is for", "old": "the passphrase now", "new": "the new passphrase",
	"capacity_bags": "bags it takes", "buyer_lines": "your own words on a buyer's label", "open_by": "open by", "wet0": "weight", "moisture0": "its moisture", "target_pct": "moisture aimed at", "spawn_pct": "spawn", "oven_after": "after drying", "oven_before": "before drying", "until": "back on", "to": "to whom",
	"count": "how many", "sterile": "take sterile bags", "word": "what they say",
	"start": "first free label on the sheet", "copies": "copies of each",
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
