package scanner

import "sync"

// layout is what the standard fixes of a symbol's version (ISO/IEC 18004, 6.3
// and 7.7): which modules are the same in every symbol, where the format bits
// stand, and in which order data runs through the rest. Versions above 6 carry
// version bits and more alignment patterns; farm labels never need them, and the
// library reads those that turn up.
type layout struct {
	version, n int
	fixed      []int8   // by module: 1 dark, -1 light, 0 free
	format     [2][]int // modules of both copies of the 15 format bits, highest first
	data       []int    // free modules in the order of the codewords' bits
}

const (
	minVersion = 1
	maxVersion = 6
)

var layouts1to6 = sync.OnceValue(func() (all [maxVersion + 1]*layout) {
	for v := minVersion; v <= maxVersion; v++ {
		all[v] = newLayout(v)
	}
	return all
})

// layoutOf is the layout of a version, nil if it is not one of ours.
func layoutOf(version int) *layout {
	if version < minVersion || version > maxVersion {
		return nil
	}
	return layouts1to6()[version]
}

func newLayout(version int) *layout {
	n := 17 + 4*version
	l := &layout{version: version, n: n, fixed: make([]int8, n*n)}
	for i := 8; i < n-8; i++ { // timing rows
		l.set(i, 6, i%2 == 0)
		l.set(6, i, i%2 == 0)
	}
	if version > 1 {
		l.squares(n-7, n-7, 2, 2)
	}
	for _, c := range [][2]int{{3, 3}, {n - 4, 3}, {3, n - 4}} {
		l.squares(c[0], c[1], 4, 3)
	}
	l.set(8, n-8, true)
	l.placeFormat()
	l.placeData()
	return l
}

func (l *layout) set(x, y int, dark bool) {
	if x < 0 || y < 0 || x >= l.n || y >= l.n {
		return
	}
	l.fixed[y*l.n+x] = -1
	if dark {
		l.fixed[y*l.n+x] = 1
	}
}

// squares draws a finder (reach 4, rings up to 3 and a separator) or an alignment
// pattern (reach 2) about a module.
func (l *layout) squares(cx, cy, reach, rings int) {
	for y := -reach; y <= reach; y++ {
		for x := -reach; x <= reach; x++ {
			ring := max(x, -x, y, -y)
			dark := ring != 2 && ring != 4
			if rings == 2 {
				dark = ring != 1
			}
			l.set(cx+x, cy+y, dark)
		}
	}
}

// placeFormat lists the modules of the format bits, the bit of highest value
// first (ISO/IEC 18004, 7.9.1).
func (l *layout) placeFormat() {
	var first, second []int
	for _, x := range []int{0, 1, 2, 3, 4, 5, 7, 8} {
		first = append(first, 8*l.n+x)
	}
	for _, y := range []int{7, 5, 4, 3, 2, 1, 0} {
		first = append(first, y*l.n+8)
	}
	for y := l.n - 1; y >= l.n-7; y-- {
		second = append(second, y*l.n+8)
	}
	for x := l.n - 8; x < l.n; x++ {
		second = append(second, 8*l.n+x)
	}
	l.format = [2][]int{first, second}
}

// placeData runs up and down through columns of two modules from the right,
// passing over the timing column.
func (l *layout) placeData() {
	taken := make([]bool, l.n*l.n)
	for i, f := range l.fixed {
		taken[i] = f != 0
	}
	for _, copy := range l.format {
		for _, i := range copy {
			taken[i] = true
		}
	}
	up := true
	for x := l.n - 1; x > 0; x -= 2 {
		if x == 6 {
			x--
		}
		for i := range l.n {
			y := i
			if up {
				y = l.n - 1 - i
			}
			for _, at := range [2]int{y*l.n + x, y*l.n + x - 1} {
				if !taken[at] {
					l.data = append(l.data, at)
				}
			}
		}
		up = !up
	}
}

// masked reports whether a data mask inverts the module in column x and row y
// (ISO/IEC 18004, 7.8.2).
func masked(mask, x, y int) bool {
	switch mask {
	case 0:
		return (x+y)%2 == 0
	case 1:
		return y%2 == 0
	case 2:
		return x%3 == 0
	case 3:
		return (x+y)%3 == 0
	case 4:
		return (y/2+x/3)%2 == 0
	case 5:
		return x*y%2+x*y%3 == 0
	case 6:
		return (x*y%2+x*y%3)%2 == 0
	}
	return ((x+y)%2+x*y%3)%2 == 0
}

// formatBits are the 32 format words by level and mask: five bits with the BCH
// (15,5) remainder of 0x537, inverted by 0x5412 (ISO/IEC 18004, annex C).
func formatBits(levelBits, mask int) int {
	v := levelBits<<3 | mask
	rest := v << 10
	for i := 14; i >= 10; i-- {
		if rest>>i&1 == 1 {
			rest ^= 0x537 << (i - 10)
		}
	}
	return (v<<10 | rest) ^ 0x5412
}
