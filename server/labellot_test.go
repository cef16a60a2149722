package server

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/labels"

	"github.com/google/go-cmp/cmp"
)

// TestLabelsOfLotsAndJars: what grows in it stands large, then which jar of which
// lot, when it was made and until when it is good; a run says that it is one.
func TestLabelsOfLotsAndJars(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	made := h.post("/api/v1/lots", `{"kind":"spawn","name":"S-1","species":"pleurotus-eryngii","strain":"KE-3","made_on":"2026-11-12","expires_on":"2026-12-20","jars":2}`).want(201)
	lot, jar := grow.Code(made.at("lot", "code").(string)), grow.Code(made.at("jars", 1, "code").(string))
	mix := grow.Code(h.post("/api/v1/lots", `{"kind":"substrate","name":"oak 12"}`).want(201).at("lot", "code").(string))
	run := grow.Code(h.post("/api/v1/runs", `{"name":"44"}`).want(201).at("run", "code").(string))
	address := "http://192.168.1.20:8080/L/"
	king := labels.Label{Name: "KING", Date: "12 NOV", Strain: "KE-3", Species: "king oyster", Lines: []string{"grain spawn, use by 20\u00a0DEC"}}
	whole, one := king, king
	whole.Payload, whole.Code, whole.Number = address+string(lot), lot.Spaced(), "S-1"
	one.Payload, one.Code, one.Number = address+string(jar), jar.Spaced(), "S-1 jar 2"
	want := []labels.Label{whole, one,
		{Payload: address + string(mix), Code: mix.Spaced(), Name: "oak 12", Lines: []string{"substrate"}},
		{Payload: address + string(run), Code: run.Spaced(), Name: "run 44", Hint: "steriliser run"}}
	got, err := h.labelWriter().labels(LabelRequest{Codes: []grow.Code{lot, jar, mix, run}})
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
}

// TestJarLabelsAreRead prints a jar's label on small and large stock, and reads
// symbol and words from the paper (pdftoppm and pdftotext of poppler, zbarimg of
// zbar).
func TestJarLabelsAreRead(t *testing.T) {
	t.Parallel()
	pdftoppm, pdftotext, zbarimg := needProgram(t, "pdftoppm"), needProgram(t, "pdftotext"), needProgram(t, "zbarimg")
	h := newHouse(t)
	jar := h.post("/api/v1/lots", `{"kind":"spawn","name":"S-1","species":"pleurotus-eryngii","strain":"KE-3","made_on":"2026-11-12","expires_on":"2026-12-20","jars":1}`).want(201).at("jars", 0, "code").(string)
	for _, sheet := range []string{"a4-3x7-63.5x38.1", "a4-5x13-38.1x21.2", "roll-57x32"} {
		pdf, err := PrintLabels(t.Context(), h.store, LabelRequest{Codes: []grow.Code{grow.Code(jar)}, Sheet: sheet})
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		file := filepath.Join(dir, "jar.pdf")
		if err := os.WriteFile(file, pdf, 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := exec.CommandContext(t.Context(), pdftotext, file, "-").Output()
		for _, words := range []string{"KING", "12 NOV", "S-1 jar 1", "use by 20 DEC"} {
			if !strings.Contains(strings.Join(strings.Fields(string(said)), " "), words) {
				t.Errorf("%s does not say %q: %s %v", sheet, words, said, err)
			}
		}
		if out, err := exec.CommandContext(t.Context(), pdftoppm, "-r", "300", "-gray", "-png", file, filepath.Join(dir, "page")).CombinedOutput(); err != nil {
			t.Fatal(err, string(out))
		}
		pages, err := filepath.Glob(filepath.Join(dir, "page*.png"))
		if err != nil || len(pages) != 1 {
			t.Fatal(pages, err)
		}
		read, err := exec.CommandContext(t.Context(), zbarimg, "-q", "--raw", pages[0]).Output()
		if err != nil || !strings.HasSuffix(strings.TrimSpace(string(read)), "/L/"+jar) {
			t.Errorf("%s: zbarimg reads %q, %v", sheet, read, err)
		}
	}
}
