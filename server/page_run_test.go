package server

import (
	"bytes"
	"mime/multipart"
	"net/url"
	"strings"
	"testing"
)

// sendFile posts a form with a file, as a browser does.
func (b *browser) sendFile(path string, data string, fields url.Values) page {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name := range fields {
		form.WriteField(name, fields.Get(name))
	}
	part, err := form.CreateFormFile("file", "run.csv")
	if err != nil {
		b.t.Fatal(err)
	}
	part.Write([]byte(data))
	if err := form.Close(); err != nil {
		b.t.Fatal(err)
	}
	r := b.request("POST", path, body.String())
	r.Header.Set("Content-Type", form.FormDataContentType())
	return b.take(r)
}

// TestRunPages keeps a run by its form, reads a file and typed lines, makes
// sterile bags and a control, and sees mould in the control.
func TestRunPages(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	run := b.fill(b.open("/runs").ok(), `form[action="/runs"]`, "name", "R-31", "started_at", "2026-11-25T04:00", "load", "door: 12 oak\ncore: 12\ntop").led()
	p := b.open(run).ok().says("h1", "Steriliser run R-31").says("main", "12 oak").says(".caution", "Steam under pressure")
	checkMarkup(t, p)
	b.fill(b.open("/runs").ok(), `form[action="/runs"]`, "name", "r-31").says("[role=alert]", "Nothing was saved")
	b.kings("2", `,"steriliser_run":"R-31"`)
	b.sendFile(run+"/readings/file", loggedRun(4), url.Values{"spot": {"core"}}).led()
	p = b.open(run).ok().says(".note.bad .lead", "No: less than was aimed at").says(".note.bad", "Short of the target of 15").has(1, "svg[role=img]").says("main", "it flatters the load")
	checkMarkup(t, p)
	b.open("/batches/"+b.get("/api/v1/batches").at("batches", 0, "code").(string)).says("main", "short")
	b.fill(p, `form[action$="take-back"]`).led()
	spring := "Time;Core\n3/4/2026 8:00 AM;120\n3/4/2026 9:00 AM;121\n"
	p = b.sendFile(run+"/readings/file", spring, url.Values{"spot": {"core"}}).says("#f-file-error", "its readings are of 4 Mar 2026, the run began 25 Nov 2026").has(1, "input[name=anyway]")
	checkMarkup(t, p)
	b.sendFile(run+"/readings/file", spring, url.Values{"spot": {"core"}, "anyway": {"true"}}).led()
	b.fill(b.open(run).ok().says("main", "the month was taken"), `form[action$="take-back"]:has(button[aria-label$="Core."], button)`).led()
	b.sendFile(run+"/readings/file", "no table", url.Values{"spot": {"core"}}).says("[role=alert]", "Nothing was saved")
	b.fill(b.open(run).ok(), `form[action$="/readings"]`, "readings", "0 20\n95 121\n125 121,0\n140 100", "spot", "core", "position", "door").led()
	b.open(run).ok().says(".lead", "Yes, by what was aimed at").says("main", "The target of 15 was reached")
	b.fill(b.open(run).ok(), `form[action$="/readings"]`, "readings", "0 20\n45 100\n09:35 118.5\n10:35 121").says("[role=alert]", "a line cannot be read") // two ways in one list
	b.fill(b.open(run).ok(), `form[action$="/readings"]`, "readings", "warm 20\n09:35 118.5").says("[role=alert]", "a line cannot be read")
	b.fill(b.open(run).ok(), `form[action$="/readings"]`, "readings", "0 68\n95 250").says("[role=alert]", "was it read in °F?")
	b.fill(b.open(run).ok(), `form[action$="/readings"]`, "readings", "soon hot").says("[role=alert]", "a line cannot be read")

	led := b.fill(b.open(run).ok(), `form[action$="/sterile"]`, "count", "3", "recipe", "oak").led()
	if !strings.HasPrefix(led, "/print?codes=") || strings.Count(led, ",") != 2 {
		t.Fatalf("led to %s", led)
	}
	one := strings.Split(strings.TrimPrefix(led, "/print?codes="), ",")[0]
	control := strings.TrimPrefix(b.fill(b.open(run).ok(), `form:has(input[name=control])`).led(), "/print?codes=")
	checkMarkup(t, b.open("/B/"+one).ok().says("h1", "Sterile bag"))
	b.fill(b.open("/B/"+one), `form:has(input[value=burst])`).led()
	b.open("/B/"+one).ok().says("main", "Out: burst")
	b.open("/").ok().says("main", "2 sterile bags left from run R-31, filled today")
	checkMarkup(t, b.open("/B/"+control).ok().says("main", "never inoculate"))
	b.fill(b.open("/B/"+control), `form:has(input[value=contaminated])`, "what", "green_mould").led()
	b.open("/B/"+control).says("main", "points at the run")
	b.open(run).says("[role=alert]", "The control bag went bad")
	b.open("/").says(".note.bad", "The control bag of run R-31 went bad")
	b.open(run+"/recall").ok().says("h1", "Recall of R-31")
	b.fill(b.open(run).ok(), `form[action$="/run"]`, "name", "R-31b", "method", "lime").led()
	b.open(run).ok().says(".caution", "lime")
	b.open(run).ok().says("h1", "R-31b").says("main", "What was corrected")
}

// TestCorrectingANote leaves what stands beside it as it was: a load of which nobody
// counted the bags, a lot made from one with a comma in its name.
func TestCorrectingANote(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	load := `[{"position":"door","what":"2 kg bags","bags":null},{"position":"core","what":"oak","bags":12},{"position":"top","what":null,"bags":null}]`
	run := b.post("/api/v1/runs", `{"name":"R-1","load":`+load+`}`).want(201).at("run", "code").(string)
	b.fill(b.open("/L/"+run).ok(), `form[action$="/run"]`, "note", "a note").led()
	if got := b.get("/api/v1/runs/R-1").want(200); len(got.at("changes").([]any)) != 1 || got.at("run", "load", 0, "bags") != nil || got.at("run", "load", 0, "what") != "2 kg bags" {
		t.Errorf("load %v, corrections %v", got.at("run", "load"), got.at("changes"))
	}
	b.post("/api/v1/lots", `{"kind":"culture","name":"Oak, fine"}`).want(201)
	lot := b.post("/api/v1/lots", `{"kind":"spawn","name":"S-1","made_from":["Oak, fine"]}`).want(201).at("lot", "code").(string)
	b.fill(b.open("/L/"+lot).ok(), `form:has(button:contains("Correct the lot"))`, "note", "rye").led()
	if got := b.get("/api/v1/lots/S-1").want(200); len(got.at("changes").([]any)) != 1 || got.at("lot", "made_from", 0, "name") != "Oak, fine" {
		t.Errorf("made from %v, corrections %v", got.at("lot", "made_from"), got.at("changes"))
	}
}
