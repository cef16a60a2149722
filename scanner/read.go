package scanner

import (
	"context"
	"fmt"
	"runtime"

	"bagmark/grow"
)

// Known is what the farm has printed: the addresses its labels carry, newest
// first, and the labels that are in use.
type Known struct {
	Addresses []grow.Address
	Labels    []Reference
}

// Options is what the farm knows that helps to read a picture. The zero value
// is fine. Known is asked at most once a picture, and only if the picture has a
// symbol that cannot be read without it.
type Options struct {
	Known   func(context.Context) (Known, error)
	Tracker *Tracker // of the camera whose next frame this is; nil for a picture by itself
}

// Result is what a picture shows. Width and Height are of the picture as it was
// sent, before Turn is applied.
type Result struct {
	Found         []Found
	Width, Height int
	Turn          Turn
}

// Found is one symbol in a picture. Text is always given; Code only where Kind
// is not [Other]. Corners are those of the symbol without its quiet zone, in
// pixels of the picture as it was sent (before any Exif turn; [Turn.Upright]
// maps them), clockwise from the symbol's own top left. Certain is false where
// the find was made by matching against known codes: show it as probable, and
// log nothing on it alone.
type Found struct {
	Text    string
	Kind    grow.CodeKind
	Code    grow.Code
	Certain bool
	Corners [4]Point
}

// Reader reads pictures, one a core at a time; others wait in a queue of
// limited length. It is safe for use by many goroutines.
type Reader struct {
	places chan struct{} // one token for each picture at work or waiting
	cores  chan struct{} // one token for each picture at work
	book   book          // symbols of known labels
}

// NewReader makes a reader that works on one picture a core and lets queue more
// wait.
func NewReader(queue int) *Reader {
	cores := runtime.GOMAXPROCS(0)
	return &Reader{places: make(chan struct{}, cores+max(queue, 0)), cores: make(chan struct{}, cores)}
}

// Read finds and reads every symbol in a JPEG or PNG. A picture without symbols
// is no error. Errors are a [grow.Error]: [grow.Busy] if the queue is full, what
// [OpenPicture] gives, or the context's own error.
func (r *Reader) Read(ctx context.Context, data []byte, opts Options) (Result, error) {
	select {
	case r.places <- struct{}{}:
		defer func() { <-r.places }()
	default:
		return Result{}, grow.Errorf(grow.Busy, "too many pictures are being read just now: try again in a few seconds")
	}
	select {
	case r.cores <- struct{}{}:
		defer func() { <-r.cores }()
	case <-ctx.Done():
		return Result{}, ctx.Err()
	}
	return r.read(ctx, data, opts)
}

// fullScalePixels is the largest picture that is read at its own scale. Sensors of
// more pixels are no sharper for it, and the memory for one photo stays in bounds.
const fullScalePixels = 20_000_000

// read is one picture from bytes to finds. Whatever panics inside a library on
// a picture nobody thought of becomes an error of this one picture.
func (r *Reader) read(ctx context.Context, data []byte, opts Options) (res Result, err error) {
	defer func() {
		if p := recover(); p != nil {
			res, err = Result{}, &grow.Error{Kind: grow.Internal, Message: "this picture could not be read: take another", Cause: fmt.Errorf("reading a picture: %v", p)}
		}
	}()
	picture, err := OpenPicture(data)
	if err != nil {
		return Result{}, err
	}
	g := luminance(picture.Image)
	res = Result{Width: g.w, Height: g.h, Turn: picture.Turn}
	if picture.Turn.Mirrored() {
		g = g.mirror()
	}
	scale := 1.0
	if g.w*g.h > fullScalePixels {
		g, scale = half(g), 2
	}
	symbols, err := findSymbols(ctx, g, opts, &r.book)
	if err != nil {
		return Result{}, err
	}
	for _, s := range symbols {
		for i := range s.corners {
			s.corners[i] = s.corners[i].times(scale)
		}
		if picture.Turn.Mirrored() {
			for i := range s.corners {
				s.corners[i].X = float64(res.Width) - s.corners[i].X
			}
		}
		res.Found = append(res.Found, s.found())
	}
	return res, nil
}

// symbol is one symbol read, before anybody asked whose it is.
type symbol struct {
	text    string
	corners quad
	matched bool // by comparison with known codes
}

func (s symbol) found() Found {
	f := Found{Text: s.text, Kind: Other, Certain: !s.matched, Corners: s.corners}
	if ref, err := ParsePayload(s.text); err == nil {
		f.Kind, f.Code = ref.Kind, ref.Code
	}
	return f
}

// symbolSet collects symbols and drops what was found twice: the same text in
// the same place.
type symbolSet []symbol

func (s *symbolSet) add(n symbol) {
	for i, o := range *s {
		near := o.corners.middle().distance(n.corners.middle()) < 0.5*max(o.corners.side(), n.corners.side())
		if near && (o.text == n.text || o.matched || n.matched) {
			if o.matched && !n.matched {
				(*s)[i] = n
			}
			return
		}
	}
	*s = append(*s, n)
}
