package server

import (
	"sync"

	"bagmark/grow"
)

// pageSet are the pages parsed for how the farm writes: what writes a time or a weight
// inside a page knows no farm, so they are parsed anew once an owner changes that.
type pageSet struct {
	sync.Mutex
	units grow.Units
	views views
}

// of gives the pages of a farm that writes so.
func (p *pageSet) of(u grow.Units) (views, error) {
	p.Lock()
	defer p.Unlock()
	if p.views != nil && p.units == u {
		return p.views, nil
	}
	parsed, err := parseViews(u)
	if err != nil {
		return nil, err
	}
	p.units, p.views = u, parsed
	return parsed, nil
}
