package labels

// Label is what one label says: words that are printed as they are, and a payload
// that becomes a symbol. Empty fields take no room. The same type serves:
//
//   - a bag: everything but Rules
//   - a place, a lot, a bench card: Payload, Code, Name, and what else helps
//   - a blank to be written on later: Payload, Code and Rules
//   - a bag that somebody buys: Name, Number, Date, Lines
//   - a departure sticker: Departures alone, which then fill the label
//
// Any text is taken. What the fonts lack prints as □, control characters as
// spaces or not at all; long words shrink, then wrap, then end in an ellipsis.
// Lines break at spaces, never at a no-break space (U+00A0).
type Label struct {
	Payload    string   // goes into the symbol; empty for no symbol
	Code       string   // as it is to be read: "7K3M 9QXR"
	Name       string   // to be read at 1 m; short, in capitals: "KING"
	Date       string   // to be read at 1 m: "14 MAR"
	Weekday    string   // "Sat"
	Number     string   // "7/12"
	Strain     string   //
	Batch      string   //
	Departures []string // each a solid block with white letters: "HOOD OFF"
	Species    string   // full name, small
	PenBoxes   []string // words with a box to cross; labels of 33 mm height and more
	Hint       string   // one quiet line: "hunt from 21 MAR"
	Lines      []string // small, printed whole whatever else gives way: what a buyer must read
	Rules      []string // captions of empty lines to write on: "species", "date"
}

// penBoxMM is the least height of a label that gets pen boxes.
const penBoxMM = 33.0

// cleaned makes every word printable and drops those that are empty.
func (l Label) cleaned(labelH float64) Label {
	f := loadFaces()
	l.Code = f.mono.clean(l.Code)
	for _, word := range []*string{&l.Name, &l.Date, &l.Number} {
		*word = f.bold.clean(*word)
	}
	for _, word := range []*string{&l.Weekday, &l.Strain, &l.Batch, &l.Species, &l.Hint} {
		*word = f.medium.clean(*word)
	}
	l.Departures = f.bold.cleanAll(l.Departures)
	l.PenBoxes = f.medium.cleanAll(l.PenBoxes)
	l.Rules = f.medium.cleanAll(l.Rules)
	l.Lines = f.medium.cleanAll(l.Lines)
	if labelH < penBoxMM {
		l.PenBoxes = nil
	}
	return l
}

func (f *face) cleanAll(words []string) []string {
	var out []string
	for _, word := range words {
		if word = f.clean(word); word != "" {
			out = append(out, word)
		}
	}
	return out
}
