package labels

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// Limits of a job.
const (
	maxCopies     = 100
	maxPrints     = 20000
	maxDepartures = 40 // of one label; far more than can be read
	minDPI        = 150
	maxDPI        = 2400
)

// Job is one print run: labels on one kind of stock.
type Job struct {
	Sheet      Sheet
	Labels     []Label
	Start      int        // first free position of the first page, from 1; 0 means 1
	Copies     int        // of each label, side by side; 0 means 1
	Correction Correction // of the printer
	DPI        int        // dots per inch; 0 means 600 for sheets and 203 for rolls
	Made       time.Time  // date inside the file; the zero time means none of today: a fixed day
}

// Validate reports every field of the job that is wrong in one *Error.
func (j Job) Validate() error {
	if err := j.Sheet.Validate(); err != nil {
		return err
	}
	if err := j.Correction.Validate(); err != nil {
		return err
	}
	var p problems
	p.check(len(j.Labels) > 0, "labels", "must be at least one")
	p.check(j.Start >= 0 && j.Start <= j.Sheet.PerPage(), "start", fmt.Sprintf("must be 1 to %d on this sheet", j.Sheet.PerPage()))
	p.check(j.Copies >= 0 && j.Copies <= maxCopies, "copies", fmt.Sprintf("must be 1 to %d", maxCopies))
	p.check(len(j.Labels)*max(j.Copies, 1) <= maxPrints, "labels", fmt.Sprintf("must be at most %d in one run", maxPrints))
	p.check(j.DPI == 0 || j.DPI >= minDPI && j.DPI <= maxDPI, "dpi", fmt.Sprintf("must be %d to %d", minDPI, maxDPI))
	for i, l := range j.Labels {
		p.check(len(l.Departures) <= maxDepartures, fmt.Sprintf("labels[%d].departures", i), fmt.Sprintf("must be at most %d", maxDepartures))
	}
	return p.err("these labels cannot be printed")
}

// PDF draws the job. The same job gives the same bytes, also when several are
// drawn at once.
func (j Job) PDF() ([]byte, error) {
	if err := j.Validate(); err != nil {
		return nil, err
	}
	inks, err := j.layouts()
	if err != nil {
		return nil, err
	}
	doc := newDocument(j.Sheet.PageW, j.Sheet.PageH, j.Made)
	at := max(j.Start, 1) - 1
	for i := range len(inks) * max(j.Copies, 1) {
		position := (at + i) % j.Sheet.PerPage()
		if i == 0 || position == 0 {
			doc.addPage()
		}
		x, y := j.Sheet.contentAt(position)
		x, y = j.Correction.Apply(x, y)
		doc.draw(inks[i/max(j.Copies, 1)], x, y)
	}
	return doc.bytes()
}

// layouts lays out all labels, on every processor there is: most of the time goes
// into symbols, each of which is independent. Of several errors the first label's
// is given, whichever came first.
func (j Job) layouts() ([]*ink, error) {
	inks := make([]*ink, len(j.Labels))
	errs := make([]error, len(j.Labels))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(inks)) {
		wait.Go(func() {
			for i := next.Add(1) - 1; int(i) < len(inks); i = next.Add(1) - 1 {
				inks[i], errs[i] = layout(j.Labels[i], j.Sheet, j.dpi())
			}
		})
	}
	wait.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, &Error{Message: fmt.Sprintf("label %d: %v", i+1, err)}
		}
	}
	return inks, nil
}

func (j Job) dpi() int {
	switch {
	case j.DPI != 0:
		return j.DPI
	case j.Sheet.Roll:
		return rollDPI
	}
	return laserDPI
}

// Pages is how many pages the job takes.
func (j Job) Pages() int {
	prints := len(j.Labels) * max(j.Copies, 1)
	return (max(j.Start, 1) - 1 + prints + j.Sheet.PerPage() - 1) / j.Sheet.PerPage()
}
