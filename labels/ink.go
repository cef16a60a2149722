package labels

// mark is one thing to print, in millimetres from the top left of the content.
type mark struct {
	kind  markKind
	x, y  float64 // top left; of a text, the left end of its baseline
	w, h  float64 // of a text, its width and the height of its capitals
	text  string
	face  *face
	white bool // white on a block
}

type markKind int

const (
	markText   markKind = iota
	markBlock           // filled, its top left corner notched
	markPen             // outline to cross with a pen, notched like a block
	markBox             // outline
	markRule            // hairline
	markTick            // a ruler's thinner line
	markPanel           // white ground
	markSymbol          // x, y, w, h of the quiet zone's outer edge
)

// hairline is the one line weight, wide enough for 4 dots at 600 and 2 at 203
// dots per inch.
const hairline = 0.2

// tickMM is the line of a ruler's ticks, which stand 0.5 mm apart.
const tickMM = 0.1

// ink is the layout of one label.
type ink struct {
	w, h   float64 // content size
	symbol *Symbol // nil without a payload
	module float64 // mm
	dot    float64 // of the printer, mm
	marks  []mark
}

func (k *ink) add(m mark) {
	m.x, m.y, m.w, m.h = round3(m.x), round3(m.y), round3(m.w), round3(m.h)
	k.marks = append(k.marks, m)
}

// write puts one line of text with its baseline at y.
func (k *ink) write(f *face, text string, capMM, x, y float64) {
	k.add(mark{kind: markText, x: x, y: y, w: f.width(text, capMM), h: capMM, text: text, face: f})
}
