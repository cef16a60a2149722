package labels

// block is one departure: white letters on solid black.
type block struct {
	lines lines
	w     float64
}

// leastBlockMM is kept while the other letters shrink to 0.7 of their size.
const leastBlockMM = 4.0

// blockRows packs departures into rows, several side by side where they fit, with
// smaller letters if that saves a row. Height is that of the highest block, so that
// all rows are alike.
func (c *column) blockRows(f *face) (rows [][]block, height, gap float64) {
	tall := max(blockMM*c.unit, leastBlockMM*min(1, c.plan.shrink/0.7))
	gap = min(0.8, 0.2*tall)
	for _, letters := range []float64{0.6, 0.54, 0.48} {
		packed, high := c.pack(f, letters*tall, gap)
		if rows == nil || len(packed) < len(rows) {
			rows, height = packed, max(tall, high)
		}
	}
	return rows, height, gap
}

// pack fills rows with blocks whose capitals are at most capMM high. A departure
// too wide for the column shrinks, then wraps; high is what the
// highest needs.
func (c *column) pack(f *face, capMM, gap float64) (rows [][]block, high float64) {
	pad := 0.35 * capMM
	used := 0.0
	for _, text := range c.label.Departures {
		b := block{lines: f.fit(text, capMM, capMM*0.55, c.area.w-2*pad, 3)}
		for _, line := range b.lines.text {
			b.w = max(b.w, f.width(line, b.lines.cap)+2*pad)
		}
		high = max(high, float64(len(b.lines.text))*b.lines.cap*1.35+0.45*b.lines.cap)
		if len(rows) == 0 || used+gap+b.w > c.area.w {
			rows = append(rows, nil)
			used = -gap
		}
		last := len(rows) - 1
		rows[last] = append(rows[last], b)
		used += gap + b.w
	}
	return rows, high
}

// drawBlocks draws the rows downwards from y.
func (c *column) drawBlocks(f *face, rows [][]block, y, height, gap float64) {
	for _, row := range rows {
		x := c.area.x
		for _, b := range row {
			c.ink.block(f, b, area{x, y, b.w, height})
			x += b.w + gap
		}
		y += height + gap
	}
}

// block draws one departure with its words in the middle.
func (k *ink) block(f *face, b block, a area) {
	k.add(mark{kind: markBlock, x: a.x, y: a.y, w: a.w, h: a.h})
	step := b.lines.cap * 1.35
	y := a.y + (a.h-step*float64(len(b.lines.text)-1)+b.lines.cap)/2
	for _, line := range b.lines.text {
		w := f.width(line, b.lines.cap)
		k.add(mark{kind: markText, x: a.x + (a.w-w)/2, y: y, w: w, h: b.lines.cap, text: line, face: f, white: true})
		y += step
	}
}

// sticker fills a label with departures alone, one above the other, in the largest
// letters that one or two lines allow.
func sticker(k *ink, departures []string) {
	f := loadFaces().bold
	n := float64(len(departures))
	gap := min(0.8, 0.1*k.h/n)
	height := (k.h - gap*(n-1)) / n
	for i, text := range departures {
		fitted := f.fit(text, 0.5*height, 0, k.w*0.92, 1)
		if broken, whole := f.largest(text, 0.33*height, k.w*0.92, 2); whole && broken.cap > fitted.cap {
			fitted = broken
		}
		k.block(f, block{lines: fitted}, area{0, float64(i) * (height + gap), k.w, height})
	}
}

// penRows packs pen boxes into rows of a width.
func (k *ink) penRows(words []string, width float64) [][]string {
	var rows [][]string
	used := 0.0
	for _, word := range words {
		word = loadFaces().medium.fit(word, k.pen(smallMM), k.pen(smallMM), width-k.pen(boxMM+boxGapMM), 1).text[0]
		w := k.penWidth(word)
		if len(rows) == 0 || used+w > width {
			rows = append(rows, nil)
			used = 0
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], word)
		used += w + k.pen(wordGapMM)
	}
	return rows
}

const (
	boxGapMM  = 0.8 // between a box and its word
	wordGapMM = 2.0 // between a word and the next box
)

// penWidth is a box, its word and the space between.
func (k *ink) penWidth(word string) float64 {
	return k.pen(boxMM+boxGapMM) + loadFaces().medium.width(word, k.pen(smallMM))
}

func (k *ink) penHeight(rows [][]string) float64 {
	return float64(len(rows))*k.pen(boxMM+penGapMM) - k.pen(penGapMM)
}

// pen scales a length of the pen boxes: larger on larger labels, never smaller.
func (k *ink) pen(mm float64) float64 {
	return mm * min(max(k.h/baseH, 1), 1.6)
}

func (k *ink) drawPenRows(rows [][]string, a area) {
	y, box := a.y, k.pen(boxMM)
	for _, row := range rows {
		x := a.x
		for _, word := range row {
			half := hairline / 2
			k.add(mark{kind: markBox, x: x + half, y: y + half, w: box - hairline, h: box - hairline})
			k.write(loadFaces().medium, word, k.pen(smallMM), x+k.pen(boxMM+boxGapMM), y+(box+k.pen(smallMM))/2)
			x += k.penWidth(word) + k.pen(wordGapMM)
		}
		y += k.pen(boxMM + penGapMM)
	}
}
