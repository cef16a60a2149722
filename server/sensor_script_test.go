package server

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/store"
)

// badLine lies between a sensor and the farm: of each four requests about one gets
// through whole, one never arrives, of one the answer is lost, and of one the
// answer is cut in its middle. It is drawn by a seed.
type badLine struct {
	sync.Mutex
	random *rand.Rand
	farm   http.Handler
	whole  bool // it is a good line from now on
	fates  [4]int
}

func (l *badLine) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	l.Lock()
	fate := l.random.IntN(4)
	if l.whole {
		fate = 0
	}
	l.fates[fate]++
	l.Unlock()
	switch fate {
	case 0:
		l.farm.ServeHTTP(w, r)
		return
	case 2: // it arrives, and its answer is lost
		l.farm.ServeHTTP(httptest.NewRecorder(), r)
	case 3:
		answer := httptest.NewRecorder()
		l.farm.ServeHTTP(answer, r)
		w.Header().Set("Content-Length", fmt.Sprint(answer.Body.Len()))
		w.WriteHeader(answer.Code)
		w.Write(answer.Body.Bytes()[:answer.Body.Len()/2])
	}
	panic(http.ErrAbortHandler)
}

// sensorScript is docs/send-readings.sh with its environment.
type sensorScript struct {
	t     *testing.T
	spool string
	env   []string
}

func (s sensorScript) run(at time.Time, args ...string) (words string, err error) {
	path, err := filepath.Abs("../docs/send-readings.sh")
	if err != nil {
		s.t.Fatal(err)
	}
	c := exec.CommandContext(s.t.Context(), "sh", append([]string{path}, args...)...)
	c.Env = append(slices.Concat(os.Environ(), s.env), "AT="+at.Format(time.RFC3339))
	out, err := c.CombinedOutput()
	return string(out), err
}

func (s sensorScript) waiting() int {
	s.t.Helper()
	files, err := os.ReadDir(filepath.Join(s.spool, "waiting"))
	if err != nil {
		s.t.Fatal(err)
	}
	return len(files)
}

func newSensorScript(t *testing.T, address, token, place string) sensorScript {
	t.Helper()
	for _, name := range []string{"sh", "curl"} {
		if _, err := exec.LookPath(name); err != nil {
			if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
				t.Fatal("no " + name + ", and BAGMARK_REQUIRE_TOOLS=1 asks for it")
			}
			t.Skip("skipped: needs sh and curl")
		}
	}
	s := sensorScript{t: t, spool: filepath.Join(t.TempDir(), "spool")}
	s.env = []string{"BAGMARK_URL=" + address, "BAGMARK_TOKEN=" + token, "BAGMARK_PLACE=" + place, "BAGMARK_SPOOL=" + s.spool}
	return s
}

// TestSensorScript runs the example of the README over a line that drops three of
// four: every reading is on record once, whatever was sent how often.
func TestSensorScript(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	farm, err := url.Parse(h.web.URL)
	if err != nil {
		t.Fatal(err)
	}
	line := &badLine{random: rand.New(rand.NewPCG(1, 2)), farm: httputil.NewSingleHostReverseProxy(farm)}
	web := httptest.NewServer(line)
	t.Cleanup(web.Close)
	s := newSensorScript(t, web.URL, h.tokens[store.Sensor], "incubator")
	want := map[string]string{}
	begin := noon.Add(-3 * time.Hour)
	for n := range 40 {
		at := begin.Add(time.Duration(n) * 4 * time.Minute)
		temp := fmt.Sprintf("%d.%d", 20+n%5, n%10)
		want[at.Format(time.RFC3339)] = strings.TrimSuffix(temp, ".0")
		if words, err := s.run(at, temp, "88", ""); err != nil && !strings.Contains(words, "readings wait") {
			t.Fatalf("reading %d: %v, %s", n, err, words)
		}
	}
	line.whole = true
	if words, err := s.run(noon); err != nil || s.waiting() != 0 {
		t.Fatalf("over a good line: %v, %s, %d still wait", err, words, s.waiting())
	}
	if slices.Contains(line.fates[:], 0) {
		t.Errorf("the line did not do all that it can: %v", line.fates)
	}
	list := h.get("/api/v1/readings?place=incubator&limit=200").want(200)
	got := list.at("readings").([]any)
	for _, raw := range got {
		r := raw.(map[string]any)
		at, err := time.Parse(time.RFC3339Nano, r["at"].(string))
		if err != nil {
			t.Fatal(err)
		}
		key := at.UTC().Format(time.RFC3339)
		if temp := fmt.Sprint(r["temp_c"]); want[key] != temp || r["rh_pct"] != 88.0 || r["co2_ppm"] != nil {
			t.Errorf("at %s: %v, want %s °C and 88 %%", key, r, want[key])
		}
		delete(want, key)
	}
	if len(want) > 0 || len(got) != 40 {
		t.Errorf("%d readings on record, these are lost: %v", len(got), want)
	}
}

// TestSensorScriptIsRefused: what the farm will never take holds up nothing else;
// with a token that may not post, all stays where it is.
func TestSensorScriptIsRefused(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	s := newSensorScript(t, h.web.URL, h.tokens[store.Viewer], "incubator")
	if words, err := s.run(noon, "21"); err == nil || !strings.Contains(words, "answered 403; 1 readings wait") || s.waiting() != 1 {
		t.Errorf("a viewer's token: %v, %s, %d wait", err, words, s.waiting())
	}
	s.env = append(s.env, "BAGMARK_TOKEN="+h.tokens[store.Sensor])
	if words, err := s.run(noon.Add(-time.Minute), "500"); err != nil || s.waiting() != 0 { // a broken sensor
		t.Errorf("one good, one of 500 °C: %v, %s, %d wait", err, words, s.waiting())
	}
	if words, err := s.run(noon.Add(-2*time.Minute), "500"); err != nil || s.waiting() != 0 {
		t.Errorf("500 °C alone: %v, %s, %d wait", err, words, s.waiting())
	}
	answers, err := filepath.Glob(filepath.Join(s.spool, "refused", "*"))
	if err != nil || len(answers) < 2 {
		t.Errorf("refused: %v, %v", answers, err)
	}
	if got := h.get("/api/v1/readings?place=incubator").want(200).at("readings").([]any); len(got) != 1 {
		t.Errorf("%d readings on record, want the good one", len(got))
	}
}
