package server

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestVesselsLogOnAPhone reads a logger's file in a vessel's shape on a screen of
// 360 px: come-up, hold, cooling, in °F with semicolons and decimal commas, with
// three gaps in the core: four minutes, across which a line is drawn, and nine and
// thirteen, which count nothing. The lethality is held against the exact integral
// of 10^((T-121.1)/10) along straight lines between readings at most five minutes
// apart, worked out from the same file by
//
//	awk 'BEGIN{FS=";"} $3 ~ /^[0-9]+,[0-9]$/ {gsub(",",".",$3); split($2,h,":");
//	  m=h[1]*60+h[2]; l=10^((($3-32)/1.8-121.1)/10);
//	  if(n++){d=m-p; a=(l==q)?l*d:d*(l-q)/log(l/q); if(d<=5)s+=a; t+=a} p=m; q=l}
//	  END{print s, t}' run-vessel.csv
//
// which prints 53.0155 69.5435.
func TestVesselsLogOnAPhone(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	run := "/L/" + p.post("/api/v1/runs", `{"name":"R-40","method":"pressure","started_at":"2026-11-25T04:00:00Z"}`).want(201).at("run", "code").(string)
	file, err := filepath.Abs(filepath.Join("testdata", "run-vessel.csv"))
	if err != nil {
		t.Fatal(err)
	}
	p.goTo(run)
	p.tap("main details:has(input[type=file]) summary")
	p.do(chromedp.SetUploadFiles("#f-file", []string{file}))
	p.tap("form:has(#f-file) button.main")
	p.until(`document.querySelector("main")?.innerText.includes("F0 53 minutes in the core")`)
	for _, says := range []string{"Yes, by what was aimed at", "The target of 15 was reached", "22 min without readings, in 2 gaps: not counted", "nothing from 06:07 to 06:16, 06:29 to 06:42", "of the chamber: it flatters the load"} {
		if p.evaluate(`String(document.querySelector("main").innerText.includes("`+says+`"))`) != "true" {
			t.Errorf("the page does not say %q:\n%s", says, p.evaluate(`document.querySelector("main").innerText`))
		}
	}
	if wide := p.evaluate(`String(document.documentElement.scrollWidth)`); wide != "360" {
		t.Errorf("the page is %s px wide", wide)
	}
	got := p.get("/api/v1/runs/R-40").want(200)
	for name, want := range map[string]float64{"f0": 53.0155, "f0_bridged": 69.5435} {
		if f0 := got.at("series", 0, "lethality", name).(float64); f0 < want-1e-4 || f0 > want+1e-4 {
			t.Errorf("%s is %.5f, want %.4f", name, f0, want)
		}
	}
}

// TestBadJarInThreeTaps: from the page of a bag with mould in it to the jar that
// its spawn came from, and to the list of all that came from that jar.
func TestBadJarInThreeTaps(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("12", "")
	made := p.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","jars":2}`).want(201)
	for i, code := range codes {
		p.saw(code, `"kind":"marked","bench":true`)
		p.saw(code, `"kind":"condition","key":"spawn_jar","value":"`+made.at("jars", i/6, "code").(string)+`"`)
	}
	p.days(8)
	for i, code := range codes {
		switch {
		case i >= 6 && i < 10:
			p.saw(code, `"kind":"contaminated","what":"green_mould","where":"spawn_points"`)
		case i != 10: // the one in hand
			p.saw(code, `"kind":"look"`)
		}
	}
	p.goTo("/B/" + codes[10])
	taps := 0
	tap := func(selector, shows string) {
		t.Helper()
		p.tap(selector)
		taps++
		p.until(shows)
	}
	tap("#tray .tile.mould", `location.pathname.endsWith("/mould")`)
	tap(`a[href="/L/`+made.at("jars", 1, "code").(string)+`"]`, `document.querySelector("h1").textContent === "S-31 jar 2"`)
	p.until(`document.querySelector("main").innerText.includes("6 bags in 1 batch: 5 mouldy, 1 alive")`)
	tap("a[href$='/recall']", `document.querySelector("h1").textContent === "Recall of S-31 jar 2"`)
	if taps != 3 {
		t.Errorf("%d taps", taps)
	}
	p.until(`document.querySelectorAll("main table tr td.code").length === 6`)
}

// TestRecallOnPaper prints a recall: who got what and when stands on the sheet,
// and nothing of the screen does. The PDF is read by pdftotext of poppler.
func TestRecallOnPaper(t *testing.T) {
	t.Parallel()
	pdftotext := needProgram(t, "pdftotext")
	p := newPhone(t)
	p.post("/api/v1/lots", `{"kind":"spawn","name":"S-31"}`).want(201)
	batch, codes := p.kings("6", `,"spawn_lot":"S-31","place":"room 2 > rack 3"`)
	p.days(20)
	p.saw(codes[0], `"kind":"finish","why":"sold","to":"Harbour Kitchen"`)
	p.saw(codes[1], `"kind":"finish","why":"sold","to":"Harbour Kitchen"`)
	p.saw(codes[2], `"kind":"finish","why":"given","to":"the neighbour"`)
	p.saw(codes[3], `"kind":"cull","why":"precaution"`)
	lot := p.get("/api/v1/lots/S-31").want(200).at("lot", "code").(string)
	p.goTo("/L/" + lot + "/recall")
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "recall.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(pdftotext, "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"Recall of S-31", "6 bags came from it", "Still here: room 2 > rack 3: 2 bags", "Left the farm: sold, to Harbour Kitchen: 2 bags", "Left the farm: given, to the neighbour: 1 bag",
		batch + " #1", "finished Tue 15 Dec", "Thrown out: 1 bag"} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheet does not say %q:\n%s", want, out)
		}
	}
	for _, screen := range []string{"Back to it", "all sent", "Scan"} {
		if strings.Contains(text, screen) {
			t.Errorf("the sheet says %q", screen)
		}
	}
}

// TestGreenControlIsSaidFirst: with mould in the control of a run, the trace of
// any bag of that run says so before anything else.
func TestGreenControlIsSaidFirst(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.post("/api/v1/runs", `{"name":"R-31","method":"pressure"}`).want(201)
	_, codes := p.kings("3", `,"steriliser_run":"R-31","bag_conditions":[{"bags":"2","conditions":{"flow_hood":"off"}}]`)
	_, others := p.kings("1", "")
	control := p.post("/api/v1/runs/R-31/sterile-bags", `{"control":true}`).want(201).at("bags", 0, "code").(string)
	p.days(8)
	p.saw(codes[1], `"kind":"contaminated","what":"green_mould"`)
	p.goTo("/B/" + control)
	p.tap("main details:has(input[value=contaminated]) summary")
	p.tap("form:has(input[value=contaminated]) button")
	p.until(`document.querySelector("main").innerText.includes("points at the run")`)
	for _, code := range codes {
		p.goTo("/B/" + code + "/trace")
		p.until(`document.querySelector("main .tag").nextElementSibling.matches("[role=alert]") && document.querySelector("main [role=alert]").innerText.includes("never opened")`)
		p.tap(`main [role=alert] a`)
		p.until(`location.pathname === "/B/` + control + `"`)
	}
	p.goTo("/B/" + others[0] + "/trace")
	p.until(`!document.querySelector("main [role=alert]")`)
}
