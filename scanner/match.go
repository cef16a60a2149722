package scanner

import (
	"context"
	"math"

	"bagmark/grow"
)

// Matching compares a symbol too damaged to read with those the farm has
// printed. The score is the correlation, −1 to 1, of soft values and bits over
// the bits that differ between codes. A wrong code scores 0 with a standard
// deviation of one over the root of their number, which is 170 or more: 0.076
// (measured and in theory). At 0.50 a wrong match of a symbol whose own code is
// not among 5,000 has a chance of about one in a million.
const (
	matchScore  = 0.50 // accepted from here
	matchLead   = 0.12 // over the second best
	prefixScore = 0.45 // of the bits that all the farm's labels share
	hintScore   = 0.30 // enough to help the grid, four standard deviations
)

// matcher is what one picture may be compared with.
type matcher struct{ sheets []sheet }

// sheet is one address's labels of one kind and form.
type sheet struct {
	form  *form
	codes []grow.Code
	words [][]byte // their codewords
}

// newMatcher asks what the farm has printed.
func newMatcher(ctx context.Context, b *book, opts Options) (*matcher, error) {
	m := &matcher{}
	if opts.Known == nil || b == nil {
		return m, nil
	}
	known, err := opts.Known(ctx)
	if err != nil {
		return nil, err
	}
	byKind := map[grow.CodeKind][]grow.Code{}
	for _, l := range known.Labels {
		kind := l.Kind
		if kind == grow.BlankCode || kind == "" {
			kind = grow.BagCode
		}
		byKind[kind] = append(byKind[kind], l.Code)
	}
	for i, address := range known.Addresses {
		if i == mostAddress {
			break
		}
		for _, kind := range []grow.CodeKind{grow.BagCode, grow.PlaceCode, grow.LotCode, grow.CardCode} {
			codes := byKind[kind]
			if len(codes) == 0 && kind != grow.BagCode {
				continue
			}
			m.sheets = append(m.sheets, b.sheets(chapterKey{address, kind}, codes)...)
		}
	}
	return m, nil
}

// commonScore is how well the bits shared by a form's labels come out.
func (f *form) commonScore(s *stream) float64 {
	var sum, square, count float64
	for place, word := range f.certain {
		for b := range 8 {
			v := float64(clip(s.bits[8*place+b], 1))
			square += v * v
			count++
			if word>>(7-b)&1 == 0 {
				v = -v
			}
			sum += v
		}
	}
	if square == 0 {
		return 0
	}
	return sum / math.Sqrt(square*count)
}

// match is the best of a sheet's codes for a stream.
type match struct {
	code          grow.Code
	score, second float64
}

// sure reports whether a match may be shown as probable.
func (m match) sure() bool { return m.score >= matchScore && m.score-m.second >= matchLead }

func (sh *sheet) match(s *stream) (best match) {
	rows, scale := sh.form.table(s)
	for i, words := range sh.words {
		var sum float32
		for k := range rows {
			sum += rows[k].sum[words[rows[k].place]]
		}
		switch score := float64(sum) * scale; {
		case score > best.score:
			best.code, best.score, best.second = sh.codes[i], score, best.score
		case score > best.second && sh.codes[i] != best.code:
			best.second = score
		}
	}
	return best
}

// tableRow is what each value of one codeword adds to the score.
type tableRow struct {
	place int
	sum   [256]float32
}

// table turns a stream into rows, so that comparing a code is a look-up for each
// codeword; scale makes the sum a correlation.
func (f *form) table(s *stream) (rows []tableRow, scale float64) {
	var square, count float64
	for place := range f.coding.total {
		r := tableRow{place: place}
		any := false
		for b := range 8 {
			if !f.varies(place, b) {
				continue
			}
			any = true
			v := clip(s.bits[8*place+b], 1)
			square += float64(v) * float64(v)
			count++
			for word := range r.sum {
				if word>>(7-b)&1 == 1 {
					r.sum[word] += v
				} else {
					r.sum[word] -= v
				}
			}
		}
		if any {
			rows = append(rows, r)
		}
	}
	return rows, 1 / math.Sqrt(max(1e-9, square*count))
}
