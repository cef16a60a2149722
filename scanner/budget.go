package scanner

import "math"

// budget is the work that a picture may still cost, in operations: one is about a
// multiplication and an addition, a nanosecond of a slow core. It is counted and
// not timed, so that a picture gives the same finds on every machine, however
// busy, and a picture full of squares ends as a plain one does.
type budget struct {
	left  int
	floor int // what the step at hand must leave
}

// budgetOf is what a picture of w × h pixels may cost beyond a walk over its
// pixels. Larger pictures hold more labels, but not as many more as they have
// pixels.
func budgetOf(w, h int) *budget {
	const frame, frameWork = 640 * 480, 70_000_000
	return &budget{left: int(frameWork * math.Pow(max(1, float64(w*h)/frame), 0.6))}
}

func (b *budget) spend(operations int) { b.left -= operations }

// spent reports whether the step at hand must end.
func (b *budget) spent() bool { return b.left <= b.floor }

// step begins a step that may spend a share of what is there; what it returns
// ends it.
func (b *budget) step(share float64) (end func()) {
	before := b.floor
	b.floor = b.left - int(share*float64(max(0, b.left-before)))
	return func() { b.floor = before }
}

// What the steps cost that do not count their own operations.
const (
	gridWork   = 25_000 // three finders to a grid
	shapeWork  = 15_000 // a look at what may be a finder
	timingWork = 2_500  // a look at the timing rows
	decodeWork = 12_000 // mending one stream of codewords
	pointWork  = 6      // a grey between pixels
)
