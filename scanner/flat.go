package scanner

import "sync"

// flatLevel is the grey of the local mean in a flattened picture.
const flatLevel = 128

// flatten takes the mean of the square of the given radius around from every
// pixel, so that dark is below 128 and light above, whatever the light. A square
// of four or five modules works best: larger, and a thin light ring between
// spreading ink counts as dark; smaller, and the middle of a finder is its own
// mean. Only every step-th row is done; the others stay black.
func flatten(g gray, radius, step int) gray {
	flat := newGray(g.w, g.h)
	eachStrip(g, func(_, y0, y1 int) { flattenRows(g, flat, radius, step, y0, y1) })
	return flat
}

// flattenRows does rows y0 to y1. Column sums slide down with the square and its
// own sum slides along the row, so that a pixel costs the same at any radius.
func flattenRows(g, flat gray, radius, step, y0, y1 int) {
	sums := make([]int32, g.w)
	top, bottom := max(0, y0-radius), max(0, y0-radius)
	for y := y0; y < y1; y++ {
		for ; bottom < min(g.h, y+radius+1); bottom++ {
			for x, v := range g.row(bottom) {
				sums[x] += int32(v)
			}
		}
		for ; top < y-radius; top++ {
			for x, v := range g.row(top) {
				sums[x] -= int32(v)
			}
		}
		if y%step == 0 {
			flattenRow(g.row(y), flat.row(y), sums, radius, bottom-top)
		}
	}
}

func flattenRow(row, out []uint8, sums []int32, radius, rows int) {
	w := len(row)
	var sum int32
	for x := range min(radius, w) {
		sum += sums[x]
	}
	const shift = 24
	scale := int64(1<<shift) / int64(rows*min(2*radius+1, w))
	for x, v := range row {
		k := scale
		if x+radius < w {
			sum += sums[x+radius]
		}
		if x > radius {
			sum -= sums[x-radius-1]
		}
		if x < radius || x+radius >= w {
			k = (1 << shift) / int64(rows*(min(w, x+radius+1)-max(0, x-radius)))
		}
		d := int(v) + flatLevel - int((int64(sum)*k+1<<(shift-1))>>shift)
		out[x] = uint8(max(0, min(255, d)))
	}
}

// rowStep is which rows of a picture are scanned: each, or each second of a large one, which still meets the core of a finder three times where
// a module is two pixels.
func rowStep(g gray) int {
	if g.w*g.h > 4_000_000 {
		return 2
	}
	return 1
}

// stripsOf is into how many strips a picture is cut for several goroutines.
func stripsOf(g gray) int {
	if g.w*g.h > 1<<20 {
		return 8
	}
	return 1
}

// eachStrip does a picture's rows strip by strip, two at a time. The machine has
// other pictures to read, so more would gain little.
func eachStrip(g gray, do func(i, y0, y1 int)) {
	n := stripsOf(g)
	if n == 1 {
		do(0, 0, g.h)
		return
	}
	var wait sync.WaitGroup
	gate := make(chan struct{}, 2)
	for i := range n {
		wait.Add(1)
		go func() {
			defer wait.Done()
			gate <- struct{}{}
			defer func() { <-gate }()
			do(i, g.h*i/n, g.h*(i+1)/n)
		}()
	}
	wait.Wait()
}
