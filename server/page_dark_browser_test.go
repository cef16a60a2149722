package server

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bagmark/labels"

	"github.com/chromedp/chromedp"
)

// filmed gives a phone whose camera shows a film that is written later.
func filmed(t *testing.T) (p *phone, film string) {
	t.Helper()
	film = filepath.Join(t.TempDir(), "film.y4m")
	return newPhone(t, chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-video-capture", film)), film
}

// view is how a label lies before the camera: what a point of the picture shows
// of the label, as a share of its side from its middle, and how lit it is there.
type view func(x, y float64) (u, v, light float64)

const filmWide, filmTall = 640, 480

// writeView films one label for so many frames at ten a second, each with grain
// of its own. Every pixel is the mean of nine points.
func writeView(t *testing.T, path, payload string, see view, grain float64) {
	t.Helper()
	symbol, err := labels.NewSymbol(payload)
	if err != nil {
		t.Fatal(err)
	}
	still := make([]float64, filmWide*filmTall)
	for i := range still {
		for k := range 9 {
			u, v, light := see(float64(i%filmWide)+float64(k%3)/3-filmWide/2, float64(i/filmWide)+float64(k/3)/3-filmTall/2)
			shade := 0.9
			n := float64(symbol.Modules)
			if mx, my := math.Floor((u+0.5)*n), math.Floor((v+0.5)*n); mx >= 0 && my >= 0 && mx < n && my < n && symbol.Dark(int(mx), int(my)) {
				shade = 0.08
			}
			still[i] += 235 * shade * light / 9
		}
	}
	random := rand.New(rand.NewPCG(1, 2))
	film := bytes.NewBufferString("YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n")
	for range 8 {
		film.WriteString("FRAME\n")
		for _, light := range still {
			film.WriteByte(uint8(max(0, min(255, 16+light+grain*random.NormFloat64()))))
		}
		film.Write(bytes.Repeat([]byte{128}, filmWide*filmTall/2))
	}
	if err := os.WriteFile(path, film.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestCameraReadsAHardLabel: where the browser reads no symbols itself, a label
// in the dark and one around a bag are read by the farm; the bag's page opens
// and one tap on it is logged.
func TestCameraReadsAHardLabel(t *testing.T) {
	t.Parallel()
	const side = 260 // pixels of the symbol in the picture
	for name, c := range map[string]struct {
		see   view
		grain float64
	}{
		"in the dark": {func(x, y float64) (u, v, light float64) { return x / side, y / side, 0.16 + 0.03*x/filmWide }, 5},
		"bent around a bag": {func(x, y float64) (u, v, light float64) { // a cylinder, seen from the front and lit from there
			const radius = 190
			turn := math.Asin(max(-1, min(1, x/radius)))
			return turn * radius / side, y / side, 0.25 + 0.7*math.Cos(turn)
		}, 2},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p, film := filmed(t)
			_, codes := p.kings("1", "")
			writeView(t, film, "http://192.168.1.20:8080/B/"+codes[0], c.see, c.grain)
			p.goTo("/scan")
			p.evaluate(`delete window.BarcodeDetector; ""`)
			p.tap("[data-ui=camera] button:not([hidden])")
			p.until(`location.pathname === "/B/` + codes[0] + `" && "enhanced" in document.documentElement.dataset`)
			p.tap("#tray form:last-of-type button")
			p.eventually("the tap is logged", func() bool { return p.bag(codes[0]).MarkedAt != nil })
		})
	}
}

// TestCameraSeesNothing: after ten seconds without a label, by the page's own
// clock, it says so with what helps, and a camera that is stopped says nothing.
func TestCameraSeesNothing(t *testing.T) {
	t.Parallel()
	p, film := filmed(t)
	blank := func(x, y float64) (u, v, light float64) { return 9, 9, 0.8 }
	writeView(t, film, "http://192.168.1.20:8080/B/00000000", blank, 2)
	p.goTo("/scan")
	p.evaluate(`{
		delete window.BarcodeDetector;
		window.ahead = 0; window.looks = 0;
		const now = performance.now.bind(performance), real = fetch;
		performance.now = () => now() + window.ahead;
		window.fetch = async (...what) => { const answer = await real(...what); if (String(what[0]).startsWith("/api/v1/scans")) window.looks++; return answer; };
	} ""`)
	says := `document.querySelector("[data-ui=camera] [role=status]").textContent`
	p.tap("[data-ui=camera] button:not([hidden])")
	p.until(`window.looks > 2`)
	if got := p.evaluate(says); got != "" {
		t.Errorf("at once it says %q", got)
	}
	p.evaluate(`window.ahead = 10000; ""`)
	p.until(says + `.startsWith("No label has been read for ten seconds.")`)
	for _, way := range []string{"take a photo", "type the eight characters", "hand-held scanner"} {
		if got := p.evaluate(says); !strings.Contains(got, way) {
			t.Errorf("%q does not name: %s", got, way)
		}
	}
	p.tap("[data-ui=camera] button:not([hidden])")
	p.until(says + ` === "" && document.querySelector("video").hidden`)
}

// rackPhoto is a photo of 4000 × 3000 pixels, six labels to a shelf.
func rackPhoto(t *testing.T, payloads []string) []byte {
	t.Helper()
	const module = 7
	photo := image.NewGray(image.Rect(0, 0, 4000, 3000))
	for i := range photo.Pix { // film over substrate: light and dark in slow waves
		x, y := float64(i%4000), float64(i/4000)
		photo.Pix[i] = uint8(95 + 30*math.Sin(x/170+y/310) + 20*math.Sin(y/90-x/400))
	}
	for i, payload := range payloads {
		symbol, err := labels.NewSymbol(payload)
		if err != nil {
			t.Fatal(err)
		}
		left, top := 180+i%6*640, 150+i/6*720
		for y := -4 * module; y < (symbol.Modules+4)*module; y++ {
			for x := -4 * module; x < (symbol.Modules+4)*module; x++ {
				shade := uint8(220)
				if mx, my := x/module, y/module; x >= 0 && y >= 0 && mx < symbol.Modules && my < symbol.Modules && symbol.Dark(mx, my) {
					shade = 35
				}
				photo.Pix[(top+y)*photo.Stride+left+x] = shade
			}
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, photo, &jpeg.Options{Quality: 88}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestRackPhotoNamesWhoIsMissing: a photo of a whole rack, taken on the sweep's
// page of a narrow phone, counts its 22 bags and names the two that are not on it.
func TestRackPhotoNamesWhoIsMissing(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("24", "")
	p.filled(p.open("/sweep?batch="+string(p.bag(codes[0]).Batch.Code)), "main form", "answer", "glance").ok()
	var payloads []string
	for i, code := range codes {
		if i != 8 && i != 18 {
			payloads = append(payloads, "http://192.168.1.20:8080/B/"+code)
		}
	}
	file := filepath.Join(t.TempDir(), "rack.jpg")
	if err := os.WriteFile(file, rackPhoto(t, payloads), 0o600); err != nil {
		t.Fatal(err)
	}
	p.goTo("/sweep")
	p.evaluate(`document.querySelector("#photo").closest("details").open = true; ""`)
	p.do(chromedp.SetUploadFiles("#photo", []string{file}))
	p.until(`document.querySelector("[data-count]").textContent.startsWith("22 of 24 seen")`)
	p.until(`document.querySelector(".note.lead").textContent.startsWith("22 labels on the photo: 22 new")`)
	missing := p.evaluate(`[...document.querySelector("[data-count]").nextElementSibling.querySelectorAll("li span")].map((s) => s.firstChild.textContent).join(", ")`)
	for i, code := range codes {
		name := p.bag(code).Batch.Short + " #" + strconv.Itoa(i+1)
		if want := i == 8 || i == 18; slices.Contains(strings.Split(missing, ", "), name) != want {
			t.Errorf("missing are %q; %s among them should be %v", missing, name, want)
		}
	}
	if wide := p.evaluate(`String(document.documentElement.scrollWidth)`); wide != "360" {
		t.Errorf("the page is %s pixels wide on a phone of 360", wide)
	}
}
