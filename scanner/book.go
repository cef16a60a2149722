package scanner

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"sync"

	"bagmark/grow"
	"bagmark/labels"
)

// book holds the symbols of the labels a farm has printed, as codewords, for
// comparison with symbols too damaged to read. It is filled as farms ask, and is
// safe for use by many goroutines.
type book struct {
	mu       sync.Mutex
	chapters map[chapterKey]*chapter
}

type chapterKey struct {
	address grow.Address
	kind    grow.CodeKind
}

// chapter is the labels of one address and kind, by the form of their symbols.
type chapter struct {
	key   chapterKey
	forms map[string]*form
	words map[grow.Code]wordsOf
}

type wordsOf struct {
	form  *form
	words []byte
}

// form is the labels whose payloads are cut into segments in the same way. They
// have one version and level, and the same codewords for all before the code.
type form struct {
	key     chapterKey
	coding  *coding
	version int
	samples int
	first   []byte
	differ  []byte       // bits that are not the same in all samples
	certain map[int]byte // codewords that all have in common, by place in the stream
}

const (
	mostChapters = 32
	mostCodes    = 50_000 // of a chapter; more than a farm has in use
	mostAddress  = 4      // the newest ones are tried
	samples      = 1500   // made-up codes that show which bits differ
	fewSamples   = 12     // of one form; rarer forms are left out
)

// sheets gives the codes of one address and kind with their codewords, a sheet
// for each form.
func (b *book) sheets(key chapterKey, codes []grow.Code) []sheet {
	b.mu.Lock()
	defer b.mu.Unlock()
	c := b.chapters[key]
	if c == nil || len(c.words) > mostCodes {
		c = newChapter(key)
		if b.chapters == nil || len(b.chapters) >= mostChapters {
			b.chapters = map[chapterKey]*chapter{}
		}
		b.chapters[key] = c
	}
	byForm := map[*form]*sheet{}
	var order []*form
	for _, f := range c.forms {
		if f.certain != nil {
			byForm[f] = &sheet{form: f}
			order = append(order, f)
		}
	}
	for _, code := range codes {
		w, there := c.words[code]
		if !there {
			w.form, w.words = c.encode(code)
			c.words[code] = w
		}
		if sh := byForm[w.form]; sh != nil {
			sh.codes = append(sh.codes, code)
			sh.words = append(sh.words, w.words)
		}
	}
	slices.SortFunc(order, func(a, b *form) int { return b.samples - a.samples })
	var list []sheet
	for _, f := range order {
		list = append(list, *byForm[f])
	}
	return list
}

func newChapter(key chapterKey) *chapter {
	c := &chapter{key: key, forms: map[string]*form{}, words: map[grow.Code]wordsOf{}}
	random := rand.New(rand.NewPCG(1, 1)) // any codes will do: they show which bits vary
	for i := range samples {
		var code [codeLength]byte
		for j := range code {
			code[j] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"[random.IntN(32)]
		}
		f, words := c.encode(grow.Code(code[:]))
		if f == nil {
			continue
		}
		if i < 4 && !c.agrees(grow.Code(code[:]), words) {
			c.forms = nil // the maker of symbols has changed its ways: match nothing
			return c
		}
		f.sample(words)
	}
	for _, f := range c.forms {
		f.settle()
	}
	return c
}

// agrees compares codewords written here with the symbol that would be printed.
func (c *chapter) agrees(code grow.Code, words []byte) bool {
	symbol, err := labels.NewSymbol(c.key.address.Payload(c.key.kind, code))
	return err == nil && bytes.Equal(readWords(symbol), words)
}

func (f *form) sample(words []byte) {
	f.samples++
	if f.first == nil {
		f.first, f.differ = words, make([]byte, len(words))
	}
	for k := range words {
		f.differ[k] |= words[k] ^ f.first[k]
	}
}

func (f *form) settle() {
	if f.samples < fewSamples {
		return
	}
	f.certain = map[int]byte{}
	for k, d := range f.differ {
		if d == 0 {
			f.certain[k] = f.first[k]
		}
	}
}

// varies reports whether a bit of the stream differs between codes.
func (f *form) varies(place, bit int) bool { return f.differ[place]>>(7-bit)&1 == 1 }

// encode gives the codewords of a code's symbol. Making a symbol tries eight
// masks and takes a millisecond; the codewords alone take a few microseconds.
func (c *chapter) encode(code grow.Code) (*form, []byte) {
	if c.forms == nil {
		return nil, nil
	}
	parts := cut(c.key.address.Payload(c.key.kind, code))
	coding := smallest(lengthOf(parts))
	if coding == nil {
		return nil, nil
	}
	name := []byte{byte(coding.version.GetVersionNumber()), byte(coding.levelBits)}
	for _, p := range parts {
		name = append(name, byte(p.mode), byte(len(p.text)))
	}
	f := c.forms[string(name)]
	if f == nil {
		f = &form{key: c.key, coding: coding, version: coding.version.GetVersionNumber()}
		c.forms[string(name)] = f
	}
	return f, writeWords(parts, coding)
}

// readWords takes the codewords out of a perfect symbol; nil if it is too large.
func readWords(symbol *labels.Symbol) []byte {
	l := layoutOf(symbol.Version)
	if l == nil {
		return nil
	}
	soft := make([]float32, l.n*l.n)
	for i := range soft {
		soft[i] = -1
		if symbol.Dark(i%l.n, i/l.n) {
			soft[i] = 1
		}
	}
	s := newStream(l, soft, formats(l, soft)[0])
	words := make([]byte, s.coding.total)
	for i := range words {
		for b := range 8 {
			words[i] <<= 1
			if s.bits[8*i+b] > 0 {
				words[i]++
			}
		}
	}
	return words
}
