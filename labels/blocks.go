package labels

// block is one departure: white letters on solid black.
type block struct {
	lines lines
	w     float64
}

// blockRows packs departures into rows, several side by side where they fit. A
// departure too wide for the column shrinks, then wraps; height is that of the
// highest, so that all rows are alike.
func (c *column) blockRows(f *face) (rows [][]block, height, gap float64) {
	tall := blockMM * max(c.unit, min(c.plan.shrink, 0.85))
	capMM := 0.6 * tall
	pad := 0.35 * capMM
	gap = min(0.8, 0.2*tall)
	height = tall
	used := 0.0
	for _, text := range c.label.Departures {
		b := block{lines: f.fit(text, capMM, capMM*0.55, c.area.w-2*pad, 3)}
		for _, line := range b.lines.text {
			b.w = max(b.w, f.width(line, b.lines.cap)+2*pad)
		}
		height = max(height, float64(len(b.lines.text))*b.lines.cap*1.35+0.45*b.lines.cap)
		if len(rows) == 0 || used+gap+b.w > c.area.w {
			rows = append(rows, nil)
			used = -gap
		}
		last := len(rows) - 1
		rows[last] = append(rows[last], b)
		used += gap + b.w
	}
	return rows, height, gap
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

// sticker fills a label with departures alone, one above the other.
func sticker(k *ink, departures []string) {
	f := loadFaces().bold
	const gap = 0.8
	n := float64(len(departures))
	height := (k.h - gap*(n-1)) / n
	if height < 1 {
		height = k.h / n * 0.9
	}
	for i, text := range departures {
		fitted := f.fit(text, 0.62*height, 0.3*height, k.w*0.92, 2)
		k.block(f, block{lines: fitted}, area{0, float64(i) * (k.h - height) / max(n-1, 1), k.w, height})
	}
}

// penRows packs pen boxes into rows.
func (c *column) penRows(f *face) [][]string {
	var rows [][]string
	used := 0.0
	for _, word := range c.label.PenBoxes {
		w := c.penWidth(f, word)
		if len(rows) == 0 || used+w > c.area.w {
			rows = append(rows, nil)
			used = 0
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], word)
		used += w + 1.4
	}
	return rows
}

// penWidth is a box, its word and the space between.
func (c *column) penWidth(f *face, word string) float64 {
	return boxMM + 0.8 + f.width(c.penWord(f, word), smallMM)
}

// penWord cuts a word that is wider than the column.
func (c *column) penWord(f *face, word string) string {
	return f.fit(word, smallMM, smallMM, c.area.w-boxMM-0.8, 1).text[0]
}

func (c *column) drawPenRows(f *face, rows [][]string, y float64) {
	for _, row := range rows {
		x := c.area.x
		for _, word := range row {
			half := hairline / 2
			c.ink.add(mark{kind: markBox, x: x + half, y: y + half, w: boxMM - hairline, h: boxMM - hairline})
			c.ink.write(f, c.penWord(f, word), smallMM, x+boxMM+0.8, y+(boxMM+smallMM)/2)
			x += c.penWidth(f, word) + 1.4
		}
		y += boxMM + 1.0
	}
}
