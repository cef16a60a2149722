package grow

import "strings"

// PlaceSeparator joins the parts of a place's full name: room > rack > shelf.
const PlaceSeparator = " > "

// PlaceName tidies the full name of a place: its parts, trimmed, joined by the
// separator.
func PlaceName(text string) string {
	parts := strings.Split(text, strings.TrimSpace(PlaceSeparator))
	kept := parts[:0]
	for _, part := range parts {
		if part = strings.Join(strings.Fields(part), " "); part != "" {
			kept = append(kept, part)
		}
	}
	return strings.Join(kept, PlaceSeparator)
}

// PlaceInRoom is where a place lies in its room, as said to someone who stands
// there: rack 2, shelf 3. A room itself is its name.
func PlaceInRoom(name string) string {
	if _, inside, ok := strings.Cut(name, PlaceSeparator); ok {
		name = inside
	}
	return strings.ReplaceAll(name, PlaceSeparator, ", ")
}

// CheckPlaceName is an error unless text is a place's full name: 1 to 60
// characters.
func CheckPlaceName(text string) error {
	var p Problems
	checkPlaceName(&p, "name", text)
	return p.Err("this place cannot be kept as it is")
}

func checkPlaceName(p *Problems, field, text string) {
	CheckName(p, field, text)
	if PlaceName(text) == "" {
		p.Add(field, "is missing")
	}
}

// PlaceWithin tells whether a place is another one or a part of it: a shelf is
// within its rack and its room, however either is spelt.
func PlaceWithin(place, of string) bool {
	return strings.EqualFold(place, of) || PlaceInside(place, of)
}

// PlaceInside tells whether a place is a part of another one.
func PlaceInside(place, of string) bool {
	return len(place) > len(of) && strings.EqualFold(place[:len(of)], of) && strings.HasPrefix(place[len(of):], PlaceSeparator)
}

// PlaceAndAround are a place and all that it is part of, the smallest first:
// shelf, rack, room.
func PlaceAndAround(name string) []string {
	out := []string{name}
	for i := strings.LastIndex(name, PlaceSeparator); i > 0; i = strings.LastIndex(name, PlaceSeparator) {
		name = name[:i]
		out = append(out, name)
	}
	return out
}
