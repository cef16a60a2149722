package labels

import (
	"fmt"
	"image"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// Versions follow from the alphanumeric and byte capacities of ISO/IEC 18004: 29
// characters are the last for version 2 at Q, 38 the last at M, 35 the last for
// version 3 at H; a lower-case scheme costs one byte segment of 44 bits.
func TestSymbolVersionAndLevel(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		payload string
		version int
		level   Level
	}{
		{"HTTP://10.0.0.5/B/7K3M9QXR", 2, LevelQ},
		{"HTTP://FARM.LOCAL/B/7K3M9QXR", 2, LevelQ},
		{"HTTP://192.168.1.20:8080/B/7K3M9QXR", 2, LevelM},
		{"HTTPS://192.168.1.20:8443/B/7K3M9QXR", 2, LevelM},
		{"HTTP://192.168.178.101:8443/B/7K3M9QXR", 2, LevelM},
		{"HTTPS://192.168.178.101:8443/B/7K3M9QXR", 3, LevelQ},
		{"http://192.168.1.20:8080/B/7K3M9QXR", 3, LevelQ},
		{"http://192.168.1.20:8080/b/7k3m9qxr", 3, LevelM},
		{"http://192.168.1.20/B/7K3M9QXR", 2, LevelM},
		{"http://FARM.LOCAL:8080/B/7K3M9QXR", 2, LevelM},
		{"https://BAGS.FARM.EXAMPLE/B/7K3M9QXR", 3, LevelQ},
	} {
		t.Run(c.payload, func(t *testing.T) {
			t.Parallel()
			s := mustSymbol(t, c.payload)
			if s.Version != c.version || s.Level != c.level {
				t.Errorf("got version %d-%s, want %d-%s", s.Version, s.Level, c.version, c.level)
			}
			if s.Modules != 17+4*c.version {
				t.Errorf("got %d modules, want %d (ISO/IEC 18004: 17 + 4 × version)", s.Modules, 17+4*c.version)
			}
		})
	}
}

// dataBits are the data capacities of ISO/IEC 18004, codewords × 8, for levels
// M, Q, H of versions 1 to 6.
var dataBits = [][3]int{{128, 104, 72}, {224, 176, 128}, {352, 272, 208}, {512, 384, 288}, {688, 496, 368}, {864, 608, 480}}

// TestSymbolTakesFreeStrength works the version and the level out by counting bits:
// "http" in a byte segment, and "://" with all the rest in an alphanumeric one.
func TestSymbolTakesFreeStrength(t *testing.T) {
	t.Parallel()
	for n := 8; n <= 34; n++ {
		host := strings.Repeat("A", n)
		rest := n + len(":///B/7K3M9QXR")
		bits := 4 + 8 + 8*len("http") + 4 + 9 + 11*(rest/2) + 6*(rest%2)
		version, level := 0, LevelM
		for v, capacity := range dataBits {
			if bits <= capacity[0] {
				version = v + 1
				for i, l := range []Level{LevelQ, LevelH} {
					if bits <= capacity[i+1] {
						level = l
					}
				}
				break
			}
		}
		s := mustSymbol(t, "http://"+host+"/B/7K3M9QXR")
		if s.Version != version || s.Level != level {
			t.Errorf("host of %d characters, %d bits: got %d-%s, want %d-%s", n, bits, s.Version, s.Level, version, level)
		}
	}
}

func TestSymbolIsReadBack(t *testing.T) {
	t.Parallel()
	const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 200 {
		code := make([]byte, 8)
		for j := range code {
			code[j] = alphabet[random.IntN(len(alphabet))]
		}
		scheme := []string{"http", "https"}[i%2]
		payload := fmt.Sprintf("%s://%s/%c/%s", scheme, strings.Repeat("F", 8+i%18), "BSLC"[i%4], code)
		if got := decode(t, mustSymbol(t, payload)); got != payload {
			t.Errorf("got %q, want %q", got, payload)
		}
	}
}

// TestSymbolIsTheSameForAll makes symbols at once and compares them with one made alone.
func TestSymbolIsTheSameForAll(t *testing.T) {
	t.Parallel()
	want := mustSymbol(t, samplePayload(0))
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			got, err := NewSymbol(samplePayload(0))
			if err != nil {
				t.Error(err)
				return
			}
			if diff := cmp.Diff(want.dark, got.dark); diff != "" {
				t.Error(diff)
			}
		})
	}
	wait.Wait()
}

func TestSymbolRefuses(t *testing.T) {
	t.Parallel()
	for _, payload := range []string{"", strings.Repeat("A", maxPayload+1)} {
		if _, err := NewSymbol(payload); err == nil {
			t.Errorf("a payload of %d characters was taken", len(payload))
		}
	}
}

func TestSymbolIsLightOutside(t *testing.T) {
	t.Parallel()
	s := mustSymbol(t, samplePayload(0))
	if !s.Dark(0, 0) || !s.Dark(s.Modules-1, 0) || !s.Dark(0, s.Modules-1) {
		t.Error("a corner that belongs to a finder is light")
	}
	if s.Dark(-1, 0) || s.Dark(0, -1) || s.Dark(s.Modules, 0) || s.Dark(0, s.Modules) {
		t.Error("a module outside the symbol is dark")
	}
}

// TestRunsCoverTheSymbol draws the runs into a matrix again.
func TestRunsCoverTheSymbol(t *testing.T) {
	t.Parallel()
	s := mustSymbol(t, samplePayload(3))
	dark := make([]bool, len(s.dark))
	for _, r := range s.runs() {
		for x := r.x; x < r.x+r.n; x++ {
			if dark[r.y*s.Modules+x] {
				t.Fatalf("module %d,%d is drawn twice", x, r.y)
			}
			dark[r.y*s.Modules+x] = true
		}
	}
	if diff := cmp.Diff(s.dark, dark); diff != "" {
		t.Error(diff)
	}
}

func mustSymbol(t testing.TB, payload string) *Symbol {
	t.Helper()
	s, err := NewSymbol(payload)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// decode reads a symbol with an independent reader, 4 pixels a module.
func decode(t *testing.T, s *Symbol) string {
	t.Helper()
	const px = 4
	picture := image.NewGray(image.Rect(0, 0, s.Side()*px, s.Side()*px))
	for y := range s.Side() * px {
		for x := range s.Side() * px {
			if !s.Dark(x/px-QuietZone, y/px-QuietZone) {
				picture.Pix[y*picture.Stride+x] = 255
			}
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, nil)
	if err != nil {
		t.Fatalf("%s: %v", s.Payload, err)
	}
	return result.GetText()
}
