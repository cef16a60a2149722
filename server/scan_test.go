package server

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"bagmark/labels"
)

// drawnShelf draws symbols side by side, white around them, so many pixels a module,
// and gives where the dark part of each begins.
func drawnShelf(t *testing.T, pixels int, payloads ...string) (data []byte, at []image.Point, sides []int) {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 500*len(payloads), 500))
	for i := range img.Pix {
		img.Pix[i] = 0xff
	}
	for i, payload := range payloads {
		symbol, err := labels.NewSymbol(payload)
		if err != nil {
			t.Fatal(err)
		}
		from := image.Pt(500*i+60, 80)
		side := symbol.Modules * pixels
		for p := range side * side {
			if x, y := p%side, p/side; symbol.Dark(x/pixels, y/pixels) {
				img.SetGray(from.X+x, from.Y+y, color.Gray{0x10})
			}
		}
		at, sides = append(at, from), append(sides, side)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), at, sides
}

type scanAnswer struct {
	Found []struct {
		Text, Kind, Code string
		Known, Certain   bool
		Corners          [][2]float64
		Batch            string
		Number           int
		Name             string
	}
	TookMS *int `json:"took_ms"`
}

func TestScanFindsEveryKindOfLabel(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	batch, bags := h.kings("2", `,"place":"room 2"`)
	blank := h.post("/api/v1/blanks", `{"count":1}`).at("bags", 0, "code").(string)
	place := h.get("/api/v1/places").at("places", 0, "code").(string)
	card := h.get("/api/v1/cards").at("cards", 0, "code").(string)
	wrong := []byte(bags[0])
	wrong[7] = map[bool]byte{true: 'A', false: 'B'}[wrong[7] == 'B']
	for _, test := range []struct {
		name, text, kind, code string
		known                  bool
	}{
		{"bag", "http://192.168.1.20:8080/B/" + bags[1], "bag", bags[1], true},
		{"bag printed before the address changed", "HTTPS://OLD.EXAMPLE/b/" + bags[1], "bag", bags[1], true},
		{"blank", "http://192.168.1.20:8080/B/" + blank, "blank", blank, true},
		{"place", "http://192.168.1.20:8080/S/" + place, "place", place, true},
		{"card", "http://192.168.1.20:8080/C/" + card, "card", card, true},
		{"right code that nobody made", "http://192.168.1.20:8080/L/7K3M9QXR", "lot", "7K3M9QXR", false},
		{"wrong check character", "http://192.168.1.20:8080/B/" + string(wrong), "other", "", false},
		{"another site", "https://example.org/B/" + bags[1] + "/more", "other", "", false},
		{"a bare code", bags[1], "other", "", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			data, at, sides := drawnShelf(t, 8, test.text)
			var got scanAnswer
			h.picture("/api/v1/scans", "image/png", data).want(200).into(&got)
			if len(got.Found) != 1 || got.TookMS == nil {
				t.Fatalf("found %+v", got)
			}
			f := got.Found[0]
			if f.Text != test.text || f.Kind != test.kind || f.Code != test.code || f.Known != test.known || !f.Certain {
				t.Errorf("found %+v", f)
			}
			if test.name == "bag" && (f.Batch != batch || f.Number != 2) {
				t.Errorf("bag %s %d", f.Batch, f.Number)
			}
			x, y, side := float64(at[0].X), float64(at[0].Y), float64(sides[0])
			for i, want := range [][2]float64{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}} {
				if math.Hypot(f.Corners[i][0]-want[0], f.Corners[i][1]-want[1]) > 6 {
					t.Errorf("corner %d at %v, want %v", i, f.Corners[i], want)
				}
			}
		})
	}
}

func TestScanOfAShelfAndOfNothing(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("3", "")
	var payloads []string
	for _, code := range bags {
		payloads = append(payloads, "http://192.168.1.20:8080/B/"+code)
	}
	data, _, _ := drawnShelf(t, 8, payloads...)
	var got scanAnswer
	h.picture("/api/v1/scans", "image/png", data).want(200).into(&got)
	if len(got.Found) != 3 {
		t.Errorf("found %d of 3", len(got.Found))
	}
	empty := h.picture("/api/v1/scans", "image/jpeg", jpegOf(t, 320, 240)).want(200)
	if found, ok := empty.at("found").([]any); !ok || len(found) != 0 {
		t.Errorf("nothing to be found: %s", empty.body)
	}
	if n := len(h.get("/api/v1/bags/" + bags[0]).at("entries").([]any)); n != 0 {
		t.Errorf("scanning logged %d entries", n)
	}
}
