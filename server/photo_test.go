package server

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
)

// quarters is a picture whose quarters are told apart by colour: top left red,
// top right green, bottom left blue, bottom right white.
func quarters(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{0xff, 0, 0, 0xff}
			switch {
			case x >= w/2 && y >= h/2:
				c = color.RGBA{0xff, 0xff, 0xff, 0xff}
			case x >= w/2:
				c = color.RGBA{0, 0xff, 0, 0xff}
			case y >= h/2:
				c = color.RGBA{0, 0, 0xff, 0xff}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func jpegOf(t testing.TB, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, quarters(w, h), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// withExif puts an Exif segment behind the start of a JPEG: the orientation
// (TIFF 6.0, tag 0x0112) and a text that must not be kept.
func withExif(data []byte, orientation uint16, secret string) []byte {
	tiff := []byte("II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00")
	tiff = binary.LittleEndian.AppendUint16(tiff, orientation)
	tiff = append(tiff, "\x00\x00\x00\x00\x00\x00"+secret...)
	segment := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{}, data[:2]...)
	out = append(out, 0xff, 0xe1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(segment)+2))
	return append(append(out, segment...), data[2:]...)
}

// send posts a picture as the body.
func (h *house) picture(path, kind string, data []byte) *reply {
	h.t.Helper()
	r := h.request("POST", path, "x")
	r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(data)), int64(len(data))
	r.Header.Set("Content-Type", kind)
	return h.send(r)
}

func (h *house) photo(data []byte) string {
	h.t.Helper()
	return h.picture("/api/v1/photos", "image/jpeg", data).want(201).at("photo").(string)
}

// TestPhotosStandUpright turns a picture in each of the eight ways in which a
// camera may have stored it (TIFF 6.0, section 8).
func TestPhotosStandUpright(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	const red, green, blue, white = "red", "green", "blue", "white"
	for turn, want := range map[uint16]struct {
		size    image.Point
		corners [4]string // top left, top right, bottom left, bottom right
	}{
		1: {image.Pt(80, 40), [4]string{red, green, blue, white}},
		2: {image.Pt(80, 40), [4]string{green, red, white, blue}},
		3: {image.Pt(80, 40), [4]string{white, blue, green, red}},
		4: {image.Pt(80, 40), [4]string{blue, white, red, green}},
		5: {image.Pt(40, 80), [4]string{red, blue, green, white}},
		6: {image.Pt(40, 80), [4]string{blue, red, white, green}},
		7: {image.Pt(40, 80), [4]string{white, green, blue, red}},
		8: {image.Pt(40, 80), [4]string{green, white, red, blue}},
	} {
		photo := h.photo(withExif(jpegOf(t, 80, 40), turn, "38.7223 N, 9.1393 W"))
		got := h.get("/api/v1/photos/" + photo).want(200)
		if bytes.Contains(got.body, []byte("Exif")) || bytes.Contains(got.body, []byte("38.7223")) {
			t.Errorf("turn %d: what the camera noted is kept", turn)
		}
		img, err := jpeg.Decode(bytes.NewReader(got.body))
		if err != nil {
			t.Fatal(err)
		}
		size := img.Bounds().Size()
		corners := [4]string{nameOf(img.At(3, 3)), nameOf(img.At(size.X-4, 3)), nameOf(img.At(3, size.Y-4)), nameOf(img.At(size.X-4, size.Y-4))}
		if size != want.size || corners != want.corners {
			t.Errorf("turn %d: %v %v, want %v %v", turn, size, corners, want.size, want.corners)
		}
	}
}

func nameOf(c color.Color) string {
	r, g, b, _ := c.RGBA()
	high := func(v uint32) bool { return v > 0x8000 }
	return map[[3]bool]string{{true, false, false}: "red", {false, true, false}: "green", {false, false, true}: "blue", {true, true, true}: "white"}[[3]bool{high(r), high(g), high(b)}]
}

func TestPhotosAreShrunk(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, test := range []struct{ w, h, wantW, wantH int }{
		{3000, 1500, 2560, 1280}, {1500, 3000, 1280, 2560}, {2560, 10, 2560, 10}, {40, 30, 40, 30}, {5120, 1, 2560, 1},
	} {
		got := h.get("/api/v1/photos/" + h.photo(jpegOf(t, test.w, test.h))).want(200)
		size, err := jpeg.DecodeConfig(bytes.NewReader(got.body))
		if err != nil || size.Width != test.wantW || size.Height != test.wantH {
			t.Errorf("%d × %d became %d × %d, %v", test.w, test.h, size.Width, size.Height, err)
		}
		if got.header.Get("Content-Type") != "image/jpeg" || !strings.Contains(got.header.Get("Cache-Control"), "private") {
			t.Errorf("headers %v", got.header)
		}
	}
}

func TestPhotosInEveryWayTheyAreSent(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	data := jpegOf(t, 800, 600)
	photo := h.photo(data)
	if again := h.picture("/api/v1/photos", "image/jpeg", data).want(200).at("photo"); again != photo {
		t.Errorf("the same bytes again are %v, were %s", again, photo)
	}
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	w.WriteField("note", "x")
	part, _ := w.CreateFormFile("photo", "../../etc/passwd.jpg")
	part.Write(data)
	w.Close()
	if again := h.picture("/api/v1/photos", w.FormDataContentType(), form.Bytes()).want(200).at("photo"); again != photo {
		t.Errorf("the same bytes in a form are %v, were %s", again, photo)
	}
	if thumb := h.get("/api/v1/photos/" + photo + "?size=thumb").want(200); len(thumb.body) >= len(h.get("/api/v1/photos/"+photo).body) {
		t.Errorf("the small version has %d bytes", len(thumb.body))
	}
	h.get("/api/v1/photos/"+photo+"?size=huge").refused(400, "invalid", "size")
	var b bytes.Buffer
	clear := image.NewNRGBA(image.Rect(0, 0, 20, 20)) // transparent all over
	if err := png.Encode(&b, clear); err != nil {
		t.Fatal(err)
	}
	got := h.get("/api/v1/photos/" + h.picture("/api/v1/photos", "image/png", b.Bytes()).want(201).at("photo").(string)).want(200)
	img, err := jpeg.Decode(bytes.NewReader(got.body))
	if err != nil || nameOf(img.At(10, 10)) != "white" {
		t.Errorf("a transparent PNG: %v", err)
	}
}

func TestPicturesThatAreRefused(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	var other bytes.Buffer
	w := multipart.NewWriter(&other)
	w.WriteField("picture", "x")
	w.Close()
	for _, path := range []string{"/api/v1/photos", "/api/v1/scans"} {
		for _, test := range []struct {
			name, kind string
			data       []byte
			status     int
			refusal    string
			fields     []string
		}{
			{"nothing", "image/jpeg", nil, 400, "invalid", nil},
			{"half a picture", "image/jpeg", jpegOf(t, 400, 300)[:700], 400, "invalid", nil},
			{"text", "image/jpeg", []byte("a picture of a bag"), 415, "unsupported", nil},
			{"another kind of picture", "image/gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), 415, "unsupported", nil},
			{"a form without the field", w.FormDataContentType(), other.Bytes(), 400, "invalid", []string{"photo"}},
			{"half a form", w.FormDataContentType(), other.Bytes()[:20], 400, "invalid", nil},
			{"a JPEG of 51 megapixels", "image/jpeg", claiming(jpegOf(t, 8, 8), 8500, 6000), 413, "too_large", nil},
			{"a PNG of 25 megapixels", "image/png", hugePNG(t), 413, "too_large", nil},
		} {
			t.Run(path+" "+test.name, func(t *testing.T) {
				h.picture(path, test.kind, test.data).refused(test.status, test.refusal, test.fields...)
			})
		}
	}
}

// claiming writes another size into the frame header (SOF0, ITU-T T.81 B.2.2)
// of a JPEG.
func claiming(data []byte, w, h uint16) []byte {
	out := bytes.Clone(data)
	at := bytes.Index(out, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(out[at+5:], h)
	binary.BigEndian.PutUint16(out[at+7:], w)
	return out
}

// hugePNG is one colour, so that it is small to send.
func hugePNG(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&b, image.NewGray(image.Rect(0, 0, 5000, 5000))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPicturesQueueUpToAPoint(t *testing.T) {
	t.Parallel()
	g := newGate(0)
	inside, leave := make(chan struct{}), make(chan struct{})
	done := make(chan error, cap(g.places))
	for range cap(g.places) {
		go func() {
			done <- g.through(t.Context(), func() error { inside <- struct{}{}; <-leave; return nil })
		}()
	}
	for range cap(g.places) {
		<-inside
	}
	if got := asError(g.through(t.Context(), func() error { return nil })); statusOf(got.Kind) != http.StatusServiceUnavailable {
		t.Errorf("a full queue gives %v", got)
	}
	close(leave)
	for range cap(g.places) {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}
