package yield

import "bagmark/grow/trace"

// twins are the keys of other columns of which one value was on exactly the same
// known bags, or on exactly the others: the records cannot tell them apart.
func (d *draft) twins(beside []trace.Column) []string {
	out := []string{}
	exposed := 0
	for _, w := range d.with {
		exposed += 1 - sideOf(w)
	}
	for _, c := range beside {
		if c.Key != d.column.Key && d.twin(c, exposed) {
			out = append(out, c.Key)
		}
	}
	return out
}

func (d *draft) twin(c trace.Column, exposed int) bool {
	type count struct{ with, without int }
	counts := map[string]*count{}
	var at *count
	last := ""
	for n, i := range d.known {
		v := c.Values[i].Value
		if v == "" {
			continue
		}
		if at == nil || v != last {
			if at = counts[v]; at == nil {
				at = &count{}
				counts[v] = at
			}
			last = v
		}
		if d.with[n] {
			at.with++
		} else {
			at.without++
		}
	}
	for _, k := range counts {
		if k.with == exposed && k.without == 0 || k.with == 0 && k.without == len(d.known)-exposed {
			return true
		}
	}
	return false
}
