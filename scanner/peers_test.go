package scanner

import (
	"bytes"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	multi "github.com/makiuchi-d/gozxing/multi/qrcode"
)

// peer is another reader, measured on the same pictures: a program in Debian's
// packages zbar-tools and zxing-cpp-tools, or the library alone.
type peer struct {
	name, program string
	read          func(t testing.TB, data []byte) []string
}

var peers = [...]peer{
	{"library", "", libraryTexts},
	{"zbar", "zbarimg", zbarTexts},
	{"zxing-cpp", "ZXingReader", zxingTexts},
}

func (p peer) there() bool {
	if p.program == "" {
		return true
	}
	_, err := exec.LookPath(p.program)
	return err == nil
}

func countRead(truths []truth, texts []string) (n int) {
	for _, tr := range truths {
		if slices.Contains(texts, tr.text) {
			n++
		}
	}
	return n
}

// libraryTexts is what gozxing's reader of many symbols finds in its strongest
// ordinary setting.
func libraryTexts(t testing.TB, data []byte) (texts []string) {
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	results, _ := multi.NewQRCodeMultiReader().DecodeMultiple(bitmap, hints)
	for _, r := range results {
		texts = append(texts, r.GetText())
	}
	return texts
}

func zbarTexts(t testing.TB, data []byte) []string {
	return strings.Split(outputFor(t, data, "zbarimg", "-q", "--raw"), "\n")
}

// zxingTexts reads the short form: a line for each symbol, with the picture's
// name, the kind of symbol and the text as a quoted string.
func zxingTexts(t testing.TB, data []byte) (texts []string) {
	for line := range strings.Lines(outputFor(t, data, "ZXingReader", "-1")) {
		if i := strings.IndexByte(line, '"'); i >= 0 {
			if text, err := strconv.Unquote(strings.TrimSpace(line[i:])); err == nil {
				texts = append(texts, text)
			}
		}
	}
	return texts
}

// outputFor is what a program says of a picture; all of them fail where they
// find nothing.
func outputFor(t testing.TB, data []byte, program string, args ...string) string {
	name := filepath.Join(t.TempDir(), "shot.jpg")
	if err := os.WriteFile(name, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, _ := exec.Command(program, append(args, name)...).Output()
	return string(out)
}
