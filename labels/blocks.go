package labels

// block is one departure: white letters on solid black.
type block struct {
	lines lines
	w     float64
}

// leastBlockMM is kept while the other letters shrink to 0.7 of their size.
const leastBlockMM = 4.0

// blockRows packs departures into rows, several side by side where they fit, in the
// largest letters with which all rows stand in the room there is. ok is false when
// not even the smallest letters of the plan do. Height is that of the highest
// block, so that all rows are alike.
func (c *column) blockRows(f *face, room float64) (rows [][]block, height, gap float64, ok bool) {
	least := max(leastBlockMM*min(1, c.plan.shrink/0.7), 0.85*blockMM*c.unit)
	want := max(blockMM*c.unit, least)
	gap = min(0.8, 0.2*least)
	fill := 0.6 // letters in their block
	smallest := 0.95 * fill
	switch {
	case c.plan.shrink < 0.7: // small blocks: less black around the letters
		fill, smallest = 0.68, 0.64
	case c.plan.dropped >= dropBatch:
		smallest = 0.54
	}
	fits := func(letters float64) bool {
		packed, high := c.pack(f, letters, gap)
		rows, height = packed, max(letters/fill, least, high)
		return float64(len(rows))*(height+gap)-gap <= room
	}
	if room < least || !fits(smallest*least) {
		return nil, 0, 0, false
	}
	for letters := fill * want; letters > smallest*least; letters *= 0.96 {
		if fits(letters) {
			return rows, height, gap, true
		}
	}
	return rows, height, gap, fits(smallest * least)
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
		high = max(high, f.blockHeight(b.lines))
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

// lineStep is from baseline to baseline in a block, in capital heights.
const lineStep = 1.35

// blockHeight is the least height of a block: capitals stand in its middle, with
// black around them and around whatever reaches above or below.
func (f *face) blockHeight(l lines) float64 {
	reach := 0.0
	for _, line := range l.text {
		over, under := f.reach(line)
		reach = max(reach, over, under)
	}
	return l.cap * (float64(len(l.text)-1)*lineStep + max(1.47, 1.1+2*reach))
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
	step := b.lines.cap * lineStep
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
		fitted := f.fitLarge(text, 0.5*height, k.w*0.92, 2)
		if needs := f.blockHeight(fitted); needs > height {
			fitted.cap *= height / needs
		}
		k.block(f, block{lines: fitted}, area{0, float64(i) * (height + gap), k.w, height})
	}
}

// pens are the pen boxes of a label, packed into rows.
type pens struct {
	rows  [][]string
	scale float64
}

const (
	boxGapMM  = 0.8 // between a box and its word
	wordGapMM = 2.0 // between a word and the next box
)

// packPens makes pen boxes larger on larger labels, unless that costs a row.
func (k *ink) packPens(words []string, width float64) pens {
	large := pens{scale: min(max(k.h/baseH, 1), 1.6)}
	large.pack(words, width)
	small := pens{scale: 1}
	small.pack(words, width)
	if len(small.rows) < len(large.rows) {
		return small
	}
	return large
}

func (p *pens) pack(words []string, width float64) {
	used := 0.0
	for _, word := range words {
		letters := smallMM * p.scale
		word = loadFaces().medium.fit(word, letters, letters, width-(boxMM+boxGapMM)*p.scale, 1).text[0]
		w := p.width(word)
		if len(p.rows) == 0 || used+w > width {
			p.rows = append(p.rows, nil)
			used = 0
		}
		p.rows[len(p.rows)-1] = append(p.rows[len(p.rows)-1], word)
		used += w + wordGapMM*p.scale
	}
}

// width is a box, its word and the space between.
func (p *pens) width(word string) float64 {
	return (boxMM+boxGapMM)*p.scale + loadFaces().medium.width(word, smallMM*p.scale)
}

func (p *pens) height() float64 {
	return (float64(len(p.rows))*(boxMM+penGapMM) - penGapMM) * p.scale
}

// drawPens draws the boxes downwards from y.
func (k *ink) drawPens(p pens, y float64) {
	box, letters := boxMM*p.scale, smallMM*p.scale
	for _, row := range p.rows {
		x := 0.0
		for _, word := range row {
			k.add(mark{kind: markPen, x: x + hairline/2, y: y + hairline/2, w: box - hairline, h: box - hairline})
			_, under := loadFaces().medium.reach(word)
			baseline := y + min((box+letters)/2, box-under*letters)
			k.write(loadFaces().medium, word, letters, x+box+boxGapMM*p.scale, baseline)
			x += p.width(word) + wordGapMM*p.scale
		}
		y += box + penGapMM*p.scale
	}
}
