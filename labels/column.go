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

func newColumn(k *ink, l Label, a area, p plan, unit float64) *column {
	most := max(unit, 1) // a plan that enlarges stays within the hierarchy's sizes
	if unit > 1 {
		most = 1.3 * unit
	}
	return &column{ink: k, label: l, area: a, plan: p, unit: min(unit*p.shrink, most), x: a.x, y: a.y}
}

// piece is a text that flows in the column.
type piece struct {
	text  string
	face  *face
	cap   float64
	lines int     // it may take when it has a row of its own
	join  bool    // rather shrinks than start a row
	large bool    // rather wraps than shrinks
	fresh bool    // starts a row
	with  float64 // width that has to fit after it on the same row
	tail  float64 // what hangs below the baseline, in capital heights
}

// fill lays everything out and says whether it fits.
func (c *column) fill() bool {
	for _, p := range c.pieces() {
		if p.text != "" {
			c.flow(p)
		}
	}
	c.rules()
	return c.bottom(c.y + c.tail)
}

// pieces are the words of the column with the sizes of the plan.
func (c *column) pieces() []piece {
	f := loadFaces()
	l, s := c.label, min(c.plan.shrink, 1)
	// At arm's length letters grow with the label, and shrink with the plan alone.
	arm := func(mm, most float64) float64 { return mm * min(max(c.unit, s), most*s) }
	// What must never be missing is not printed too small before the rest gives way.
	least := leastMM * min(1, s/0.4)
	date := max(dateMM*c.unit, least)
	if wide := f.bold.width(l.Date, date); wide > c.area.w {
		date *= c.area.w / wide
	}
	number := max(min(arm(numberMM, 1.6), 0.8*date), min(least, date))
	weekday := min(arm(weekdayMM, 1.6), 0.8*number)
	with := 0.0 // the weekday stays with the number
	if l.Weekday != "" {
		with = f.medium.width(l.Weekday, weekday) + spaceMM
	}
	nameLines, undated := 2, l.Date == ""
	if undated {
		nameLines = 4
	}
	squeezed := c.plan.dropped == dropAll
	narrow := c.area.w < 2*baseW
	out := []piece{
		{text: l.Name, face: f.bold, cap: max(nameMM*c.unit, least), lines: nameLines, large: undated, fresh: true},
		{text: l.Date, face: f.bold, cap: date, lines: 1},
		{text: l.Number, face: f.bold, cap: number, lines: 1, tail: 0.18, with: with, fresh: narrow && !squeezed},
		{text: l.Weekday, face: f.medium, cap: weekday, lines: 1, join: true},
		{text: l.Strain, face: f.medium, cap: arm(strainMM, 1.5), lines: 2, fresh: true, tail: 0.3},
		{text: l.Batch, face: f.medium, cap: arm(strainMM, 1.5), lines: 1, tail: 0.3},
		{text: l.Code, face: f.mono, cap: max(arm(codeMM, 1.8), least), lines: 1, fresh: !squeezed},
		{text: l.Species, face: f.medium, cap: arm(smallMM, 1.4), lines: 2, fresh: true, tail: 0.3},
		{text: l.Hint, face: f.medium, cap: arm(smallMM, 1.4), lines: 3, fresh: true, tail: 0.3},
	}
	for _, line := range l.Lines {
		out = append(out, piece{text: line, face: f.medium, cap: arm(smallMM, 1.4), lines: 5, fresh: true, tail: 0.3})
	}
	return out
}

// least is how far a piece shrinks before it wraps or is cut: large letters to about
// half, small ones to what can be read at arm's length.
func (p piece) least() float64 {
	return min(p.cap, max(0.4*p.cap, min(smallMM, 0.85*p.cap)))
}

// spaceMM is the least space between two pieces of a row.
const spaceMM = 1.4

// flow puts a piece on the row under way if it fits there, else on rows of its own.
func (c *column) flow(p piece) {
	width := p.face.width(p.text, p.cap)
	space := max(0.45*p.cap, spaceMM)
	if p.cap == c.row {
		space = 1.2 * p.cap // two of one size need telling apart
	}
	room := c.area.x + c.area.w - c.x - space
	over, under := p.face.reach(p.text)
	headroom := min(c.row*1.1, c.y-c.area.y) // accents of a joining piece stay in the row
	joins := !p.fresh && c.x > c.area.x && p.cap <= c.row && p.cap*(1+over) <= headroom
	if joins && width+p.with <= room {
		c.tail = max(c.tail, under*p.cap)
		c.ink.write(p.face, p.text, p.cap, c.x+space, c.y)
		c.x += space + width
		return
	}
	if joins && p.join && p.cap*room/width >= p.least() {
		p.cap *= room / width * 0.999
		c.flow(p)
		return
	}
	fitted := p.face.fit(p.text, p.cap, p.least(), c.area.w, p.lines)
	if p.large {
		fitted = p.face.fitLarge(p.text, p.cap, c.area.w, p.lines)
	}
	for _, line := range fitted.text {
		over, under := p.face.reach(line)
		c.newRow(fitted.cap, over, max(p.tail, under))
		c.ink.write(p.face, line, fitted.cap, c.area.x, c.y)
		c.x = c.area.x + p.face.width(line, fitted.cap)
	}
}

// newRow moves the baseline down by a row of this height; over and under are what
// reaches beyond it, in capital heights. Small overshoots go into the gap.
func (c *column) newRow(capMM, over, under float64) {
	if c.y == c.area.y {
		c.y += over * capMM
	} else {
		if over > 0.1 {
			c.y += over * capMM
		}
		c.y += c.tail + min(max(0.4*capMM, 1.1), 2.2)*min(c.plan.shrink, 1)*c.plan.air
	}
	c.y += capMM
	c.row = capMM
	c.tail = under * capMM
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
	size := max(c.unit, 1)
	pitch := min(room/float64(n), 10*size)
	for i, caption := range c.label.Rules[:n] {
		y := top + float64(i+1)*pitch - 0.4
		fitted := f.medium.fit(caption, 1.8*size, 1.4, c.area.w/2, 1)
		c.ink.write(f.medium, fitted.text[0], fitted.cap, c.area.x, y-0.8)
		c.ink.add(mark{kind: markRule, x: c.area.x, y: y, w: c.area.w - 1})
	}
	c.y, c.tail = top+float64(n)*pitch, 0
}

// bottom stands departures on the column's lower edge and says whether they leave
// what is above top alone.
func (c *column) bottom(top float64) bool {
	floor := c.area.y + c.area.h
	if len(c.label.Departures) == 0 {
		return top <= floor+0.001
	}
	f := loadFaces().bold
	if top > c.area.y {
		top += min(1.2, 2*c.plan.shrink)
	}
	rows, height, gap, ok := c.blockRows(f, floor-top+0.001)
	if ok {
		c.drawBlocks(f, rows, floor-float64(len(rows))*(height+gap)+gap, height, gap)
	}
	return ok
}
