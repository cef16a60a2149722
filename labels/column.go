package labels

// column lays the words of one label into its area under one plan.
type column struct {
	ink   *ink
	label Label
	area  area
	plan  plan
	unit  float64 // of things read at 1 m
	x, y  float64 // right end and baseline of the row under way
	row   float64 // height of its capitals
	tail  float64 // what hangs below its baseline
}

func newColumn(k *ink, l Label, a area, p plan) *column {
	for at, word := range []*string{dropHint - 1: &l.Hint, dropSpecies - 1: &l.Species, dropBatch - 1: &l.Batch, dropStrain - 1: &l.Strain, dropWeekday - 1: &l.Weekday} {
		if word != nil && at < p.dropped {
			*word = ""
		}
	}
	if p.dropped >= dropPenBoxes {
		l.PenBoxes = nil
	}
	return &column{ink: k, label: l, area: a, plan: p, unit: a.unit() * p.shrink, x: a.x, y: a.y}
}

// piece is a text that flows in the column.
type piece struct {
	text  string
	face  *face
	cap   float64
	lines int  // it may take when it has a row of its own
	fresh bool // starts a row
	loose bool // has letters that hang below the baseline
}

// fill lays everything out and says whether it fits.
func (c *column) fill() bool {
	f := loadFaces()
	l, s := c.label, c.plan.shrink
	nameLines := 2
	if l.Date == "" {
		nameLines = 4
	}
	arm := max(c.unit, s) // at arm's length letters grow with the label, and shrink with the plan alone
	for _, p := range []piece{
		{text: l.Name, face: f.bold, cap: nameMM * c.unit, lines: nameLines, fresh: true},
		{text: l.Date, face: f.bold, cap: dateMM * c.unit, lines: 1},
		{text: l.Weekday, face: f.medium, cap: weekdayMM * min(arm, 1.6*s), lines: 1},
		{text: l.Number, face: f.bold, cap: numberMM * min(arm, 1.6*s), lines: 1},
		{text: l.Strain, face: f.medium, cap: strainMM * min(arm, 1.5*s), lines: 2, fresh: true, loose: true},
		{text: l.Batch, face: f.medium, cap: strainMM * min(arm, 1.5*s), lines: 1, loose: true},
		{text: l.Code, face: f.mono, cap: codeMM * s, lines: 1, fresh: true},
		{text: l.Species, face: f.medium, cap: smallMM * min(arm, 1.4*s), lines: 2, fresh: true, loose: true},
		{text: l.Hint, face: f.medium, cap: smallMM * min(arm, 1.4*s), lines: 3, fresh: true, loose: true},
	} {
		if p.text != "" {
			c.flow(p)
		}
	}
	c.rules()
	top := c.y + c.tail
	return c.bottom(top)
}

// flow puts a piece on the row under way if it fits there, else on rows of its own.
func (c *column) flow(p piece) {
	width := p.face.width(p.text, p.cap)
	space := 0.45 * p.cap
	if !p.fresh && c.x > c.area.x && p.cap <= c.row && c.x+space+width <= c.area.x+c.area.w {
		c.ink.write(p.face, p.text, p.cap, c.x+space, c.y)
		c.x += space + width
		return
	}
	fitted := p.face.fit(p.text, p.cap, p.cap*0.55, c.area.w, p.lines)
	for _, line := range fitted.text {
		c.newRow(fitted.cap, p.loose)
		c.ink.write(p.face, line, fitted.cap, c.area.x, c.y)
		c.x = c.area.x + p.face.width(line, fitted.cap)
	}
}

// newRow moves the baseline down by a row of this height.
func (c *column) newRow(capMM float64, loose bool) {
	if c.y > c.area.y {
		c.y += c.tail + min(max(0.4*capMM, 0.7), 2.2)*min(c.plan.shrink, 1)
	}
	c.y += capMM
	c.row = capMM
	c.tail = 0
	if loose {
		c.tail = 0.3 * capMM
	}
}

// rules draws empty lines to write on, as many as there is room for.
func (c *column) rules() {
	n := len(c.label.Rules)
	if n == 0 {
		return
	}
	f := loadFaces()
	top := c.y + c.tail
	room := c.area.y + c.area.h - top
	for n > 1 && room/float64(n) < 5 {
		n--
	}
	pitch := min(room/float64(n), 10)
	for i, caption := range c.label.Rules[:n] {
		y := top + float64(i+1)*pitch - 0.4
		fitted := f.medium.fit(caption, 1.8, 1.4, c.area.w/2, 1)
		c.ink.write(f.medium, fitted.text[0], fitted.cap, c.area.x, y-0.8)
		c.ink.add(mark{kind: markRule, x: c.area.x, y: y, w: c.area.w - 1})
	}
	c.y, c.tail = top+float64(n)*pitch, 0
}

// bottom stands departures and pen boxes on the column's lower edge and says
// whether they leave what is above top alone.
func (c *column) bottom(top float64) bool {
	f := loadFaces()
	floor := c.area.y + c.area.h
	if len(c.label.PenBoxes) > 0 {
		rows := c.penRows(f.medium)
		floor -= float64(len(rows))*boxMM + float64(len(rows)-1)*1.0
		c.drawPenRows(f.medium, rows, floor)
		floor -= 1.2
	}
	if len(c.label.Departures) > 0 {
		rows, height, gap := c.blockRows(f.bold)
		floor -= float64(len(rows))*(height+gap) - gap
		c.drawBlocks(f.bold, rows, floor, height, gap)
		floor -= min(1.2, gap*1.5)
	}
	return top <= floor+0.001
}
