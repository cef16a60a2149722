package cli_test

import (
	"context"
	"flag"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"bagmark/cli/demo"
	"bagmark/server"
	"bagmark/store"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// The README's pictures are of the demo farm at one moment:
// go test ./cli -run TestPictures -pictures ../docs
var pictures = flag.String("pictures", "", "draw the README's pictures into this `folder`")

func TestPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("skipped: draws the README's pictures when asked to by -pictures")
	}
	now := time.Date(2027, 3, 17, 8, 40, 0, 0, time.UTC)
	dir := filepath.Join(t.TempDir(), "farm")
	in, err := demo.Make(t.Context(), dir, now)
	if err != nil {
		t.Fatal(err)
	}
	farm, err := store.Open(t.Context(), dir, store.Options{MustExist: true, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer farm.Close()
	s, err := server.New(server.Options{Store: farm})
	if err != nil {
		t.Fatal(err)
	}
	site := httptest.NewServer(s.Handler())
	defer site.Close()
	mouldy, hunted := bagsToShow(t, farm)
	phone := newCamera(t, site.URL, in)
	phone.take("today", "/", "light")
	phone.take("bag", "/B/"+hunted, "dark")
	phone.take("trace", "/B/"+mouldy+"/trace", "light")
	phone.take("batch", "/B/"+mouldy, "light")
	drawLabels(t, farm)
}

// bagsToShow are a mouldy bag still on its rack and one due for its first hunt.
func bagsToShow(t *testing.T, farm *store.Store) (mouldy, hunted string) {
	t.Helper()
	today, err := farm.Today(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range today.Sentences {
		switch s.Task {
		case "Out":
			mouldy = string(s.Bags[0].Bag)
		case "Hunt":
			hunted = string(s.Bags[0].Bag)
		}
	}
	return mouldy, hunted
}

// camera is a browser in the shape of a phone, signed in.
type camera struct {
	t    *testing.T
	ctx  context.Context
	site string
}

func newCamera(t *testing.T, site string, in demo.SignIn) camera {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(end)
	c := camera{t, ctx, site}
	c.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateScale(2)))
	c.do(chromedp.Navigate(site+"/sign-in"), chromedp.SendKeys(`input[name="name"]`, in.Name),
		chromedp.SendKeys(`input[name="passphrase"]`, in.Passphrase), chromedp.Submit("form"), chromedp.WaitVisible(`header a[href="/scan"]`))
	return c
}

func (c camera) do(steps ...chromedp.Action[chromedp.Void]) {
	c.t.Helper()
	if err := chromedp.Do(c.ctx, steps...); err != nil {
		c.t.Fatal(err)
	}
}

// take photographs the first screen of a page.
func (c camera) take(name, path, scheme string) {
	c.t.Helper()
	features := []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}
	if _, err := chromedp.Call(c.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features}); err != nil {
		c.t.Fatal(err)
	}
	c.do(chromedp.Navigate(c.site+path), chromedp.WaitReady("body"))
	png, err := chromedp.Run(c.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		c.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*pictures, name+".png"), png, 0o644); err != nil {
		c.t.Fatal(err)
	}
}

// drawLabels draws the first rows of a label sheet.
func drawLabels(t *testing.T, farm *store.Store) {
	t.Helper()
	page, err := farm.Batches(t.Context(), store.BatchFilter{Species: "pleurotus-eryngii", Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := server.PrintLabels(t.Context(), farm, server.LabelRequest{Batch: page.Batches[0].Code, Sheet: "a4-3x7-63.5x38.1"})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	draw := exec.Command("pdftoppm", "-png", "-singlefile", "-r", "100", "-x", "0", "-y", "50", "-W", "827", "-H", "620", file, filepath.Join(*pictures, "labels"))
	if out, err := draw.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}
