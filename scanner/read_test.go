package scanner

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	qrcode "github.com/skip2/go-qrcode"

	"bagmark/grow"
)

const payload = "http://192.168.1.20:8080/B/" + right

func mustRead(t *testing.T, data []byte) Result {
	t.Helper()
	res, err := NewReader(0).Read(t.Context(), data, Options{})
	if err != nil {
		t.Fatalf("Read: %v", err)
	}
	return res
}

// farthest is the greatest distance between corners that should be equal.
func farthest(a, b quad) (d float64) {
	for i := range a {
		d = max(d, a[i].distance(b[i]))
	}
	return d
}

func TestReadCorners(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		level   qrcode.RecoveryLevel
		corners quad
	}{
		{"straight", qrcode.Medium, quad{{100, 80}, {300, 80}, {300, 280}, {100, 280}}},
		{"a quarter turned", qrcode.High, quad{{300, 80}, {300, 280}, {100, 280}, {100, 80}}},
		{"upside down", qrcode.High, quad{{300, 280}, {100, 280}, {100, 80}, {300, 80}}},
		{"slanted", qrcode.Medium, quad{{200, 60}, {340, 190}, {210, 330}, {70, 200}}},
		{"from below", qrcode.High, quad{{140, 90}, {280, 95}, {330, 280}, {80, 290}}},
		{"from the side", qrcode.Highest, quad{{90, 70}, {300, 110}, {305, 280}, {85, 330}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			modules := modulesOf(t, payload, tt.level)
			g := paper(400, 400, 230)
			drawSymbol(t, g, modules, tt.corners)
			res := mustRead(t, encodeJPEG(t, g.image()))
			if len(res.Found) != 1 {
				t.Fatalf("found %d symbols, want 1", len(res.Found))
			}
			got := res.Found[0]
			want := Found{Text: payload, Kind: grow.BagCode, Code: right, Certain: true, Corners: got.Corners}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
			module := tt.corners.side() / float64(len(modules))
			off := farthest(got.Corners, tt.corners) / module
			t.Logf("corners off by %.2f modules", off)
			if off > 1.5 {
				t.Errorf("corners %v are off by %.2f modules from %v", got.Corners, off, tt.corners)
			}
		})
	}
}

func TestReadTurns(t *testing.T) {
	t.Parallel()
	corners := quad{{120, 60}, {300, 75}, {290, 250}, {105, 240}}
	upright := paper(420, 320, 235)
	drawSymbol(t, upright, modulesOf(t, payload, qrcode.High), corners)
	for turn := Turn(1); turn <= 8; turn++ {
		for name, order := range map[string]binary.AppendByteOrder{"little": binary.LittleEndian, "big": binary.BigEndian} {
			g := stored(upright, turn)
			res := mustRead(t, withTurn(encodeJPEG(t, g.image()), turn, order))
			if len(res.Found) != 1 || res.Found[0].Code != right {
				t.Errorf("turn %d, %s-endian: found %v", turn, name, res.Found)
				continue
			}
			if res.Turn != turn || res.Width != g.w || res.Height != g.h {
				t.Errorf("turn %d: got turn %d, %d × %d, want %d × %d", turn, res.Turn, res.Width, res.Height, g.w, g.h)
			}
			var back quad
			for i, p := range res.Found[0].Corners {
				back[i] = turn.Upright(p, g.w, g.h)
			}
			if off := farthest(back, corners); off > 6 {
				t.Errorf("turn %d: corners turned upright %v are off by %.1f pixels", turn, back, off)
			}
		}
	}
}

func TestReadNothingOfOurs(t *testing.T) {
	t.Parallel()
	symbolOf := func(text string) gray {
		g := paper(360, 360, 240)
		drawSymbol(t, g, modulesOf(t, text, qrcode.Medium), quad{{60, 60}, {300, 60}, {300, 300}, {60, 300}})
		return g
	}
	noise := newGray(500, 400)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range noise.pix {
		noise.pix[i] = uint8(random.Uint32())
	}
	tests := []struct {
		name string
		g    gray
		text string // of the one find; empty if there must be none
	}{
		{"blank", paper(300, 200, 255), ""},
		{"one pixel", paper(1, 1, 0), ""},
		{"noise", noise, ""},
		{"a web page", symbolOf("https://example.org/B/about"), "https://example.org/B/about"},
		{"a bare code", symbolOf(right), right},
		{"wrong check character", symbolOf("http://10.0.0.5/B/" + wrong), "http://10.0.0.5/B/" + wrong},
		{"a longer path", symbolOf(payload + "/x"), payload + "/x"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			res := mustRead(t, encodePNG(t, tt.g.image()))
			if tt.text == "" {
				if len(res.Found) != 0 {
					t.Errorf("found %v in a picture without symbols", res.Found)
				}
				return
			}
			if len(res.Found) != 1 {
				t.Fatalf("found %v, want one", res.Found)
			}
			if f := res.Found[0]; f.Kind != Other || f.Code != "" || f.Text != tt.text || !f.Certain {
				t.Errorf("found %+v, want kind %q, text %q and no code", f, Other, tt.text)
			}
		})
	}
}

// pngClaiming is a PNG of a few bytes whose header speaks of w × h pixels.
func pngClaiming(t *testing.T, w, h uint32) []byte {
	data := encodePNG(t, image.NewGray(image.Rect(0, 0, 1, 1)))
	head := data[12:29] // "IHDR", then width and height
	binary.BigEndian.PutUint32(head[4:], w)
	binary.BigEndian.PutUint32(head[8:], h)
	binary.BigEndian.PutUint32(data[29:], crc32.ChecksumIEEE(head))
	return data
}

func TestOpenPictureRefuses(t *testing.T) {
	t.Parallel()
	good := encodeJPEG(t, paper(64, 64, 200).image())
	wide := append([]byte{}, good...)
	frame := bytes.Index(wide, []byte{0xff, 0xc0}) // SOF0: length, precision, height, width
	binary.BigEndian.PutUint16(wide[frame+5:], 60000)
	binary.BigEndian.PutUint16(wide[frame+7:], 60000)
	tests := []struct {
		name string
		data []byte
		want grow.ErrorKind
	}{
		{"nothing", nil, grow.Unsupported},
		{"text", []byte("a photo of a bag"), grow.Unsupported},
		{"GIF", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), grow.Unsupported},
		{"many bytes", make([]byte, MaxPictureBytes+1), grow.TooLarge},
		{"JPEG of 3,600 megapixels", wide, grow.TooLarge},
		{"PNG of 25 megapixels", pngClaiming(t, 5000, 5000), grow.TooLarge},
		{"PNG of 3,600 megapixels", pngClaiming(t, 60000, 60000), grow.TooLarge},
		{"PNG of more pixels than an int holds", pngClaiming(t, 1<<31-1, 1<<31-1), grow.Invalid},
		{"PNG without its pixels", pngClaiming(t, 4000, 4000), grow.Invalid},
		{"JPEG cut short", good[:len(good)/2], grow.Invalid},
		{"JPEG of three bytes", good[:3], grow.Invalid},
		{"PNG cut short", encodePNG(t, paper(64, 64, 9).image())[:40], grow.Invalid},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := NewReader(0).Read(t.Context(), tt.data, Options{})
			if err == nil || grow.KindOf(err) != tt.want {
				t.Errorf("Read: %v (kind %s), want kind %s", err, grow.KindOf(err), tt.want)
			}
		})
	}
}

func TestReadBusy(t *testing.T) {
	t.Parallel()
	r := NewReader(1)
	for range cap(r.places) { // as if that many were reading and waiting
		r.places <- struct{}{}
	}
	if _, err := r.Read(t.Context(), nil, Options{}); grow.KindOf(err) != grow.Busy {
		t.Errorf("full queue: %v, want kind %s", err, grow.Busy)
	}
	<-r.places
	for range cap(r.cores) {
		r.cores <- struct{}{}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := r.Read(ctx, nil, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("waiting when cancelled: %v, want %v", err, context.Canceled)
	}
	if len(r.places) != cap(r.places)-1 {
		t.Errorf("the place in the queue was not given back")
	}
}

// Every kind of picture that a PNG may hold gives the same symbol.
func TestLuminanceKinds(t *testing.T) {
	t.Parallel()
	g := paper(300, 300, 255)
	drawSymbol(t, g, modulesOf(t, payload, qrcode.Medium), quad{{50, 50}, {250, 50}, {250, 250}, {50, 250}})
	b := image.Rect(0, 0, g.w, g.h)
	for name, img := range kindsOfImage(b) {
		for y := range g.h {
			for x, v := range g.row(y) {
				img.Set(x, y, grayColor(v))
			}
		}
		got := luminance(img)
		for y := range g.h {
			for x, v := range g.row(y) {
				if d := int(got.row(y)[x]) - int(v); d < -2 || d > 2 {
					t.Fatalf("%s: luminance at %d, %d is %d, want %d", name, x, y, got.row(y)[x], v)
				}
			}
		}
	}
}

func FuzzTurnOfJPEG(f *testing.F) {
	data := encodeJPEG(f, paper(8, 8, 100).image())
	f.Add(data)
	f.Add(withTurn(data, 6, binary.BigEndian))
	f.Add(withTurn(data, 3, binary.LittleEndian)[:40])
	f.Fuzz(func(t *testing.T, data []byte) {
		if turn := turnOfJPEG(data); turn < 1 || turn > 8 {
			t.Errorf("turn %d", turn)
		}
	})
}

func FuzzRead(f *testing.F) {
	g := paper(96, 96, 230)
	drawSymbol(f, g, modulesOf(f, right, qrcode.Low), quad{{12, 12}, {84, 12}, {84, 84}, {12, 84}})
	f.Add(encodeJPEG(f, g.image()))
	f.Add(encodePNG(f, g.image()))
	f.Fuzz(func(t *testing.T, data []byte) {
		if head, _, err := image.DecodeConfig(bytes.NewReader(data)); err == nil && head.Width*head.Height > 250_000 {
			t.Skip("too large to fuzz")
		}
		if _, err := NewReader(0).Read(t.Context(), data, Options{}); err != nil && grow.KindOf(err) == grow.Internal {
			t.Errorf("Read: %v", errors.Unwrap(err))
		}
	})
}
