package scanner

import (
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// libraryPhotos are the real photographs that travel inside the gozxing module,
// its own regression set: most are of symbols held by hand before a poor camera.
func libraryPhotos(t *testing.T) []string {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/makiuchi-d/gozxing").Output()
	if err != nil {
		t.Fatalf("finding the gozxing module: %v", err)
	}
	var all []string
	for _, sub := range []string{"qrcode-1", "qrcode-6"} {
		names, err := filepath.Glob(filepath.Join(strings.TrimSpace(string(dir)), "qrcode", "testdata", sub, "*.png"))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, names...)
	}
	if len(all) != 35 {
		t.Fatalf("found %d photos, want 35", len(all))
	}
	return all
}

// TestRealPhotos reads no fewer real photographs than the library alone does.
func TestRealPhotos(t *testing.T) {
	t.Parallel()
	ours, library := 0, 0
	for _, name := range libraryPhotos(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		want, ok := readByLibrary(t, name)
		res := mustRead(t, data)
		got := ""
		for _, f := range res.Found {
			if got = f.Text; got == want {
				break
			}
		}
		if ok {
			library++
		}
		if got != "" {
			ours++
		}
		if ok && got != want {
			t.Logf("%s: got %q, the library reads %q", filepath.Base(name), got, want)
		}
	}
	t.Logf("real photos read: %d of 35, the library alone %d", ours, library)
	if ours < library {
		t.Errorf("read %d real photos, the library alone reads %d", ours, library)
	}
}

// readByLibrary is the library's plain reader in its strongest ordinary setting.
func readByLibrary(t *testing.T, name string) (string, bool) {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	res, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		return "", false
	}
	return res.GetText(), true
}
