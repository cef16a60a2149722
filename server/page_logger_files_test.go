package server

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// hourOf is what an hour of a logger's file holds.
type hourOf struct {
	Readings int     `json:"readings"`
	TempC    float64 `json:"temp_c"`
	RHPct    float64 `json:"rh_pct"`
}

// TestLoggersFiles takes files as loggers write them from the choice of the file to
// what is kept. The hours they must give were added up from the instants that the
// files were made of, by Python's zoneinfo: testdata/loggers/make.py, which is also
// the command. Temperatures are kept to a ten-thousandth of a degree.
func TestLoggersFiles(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../testdata/loggers/expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var files map[string]struct {
		Fields map[string]string `json:"fields"` // what a person must say
		Hours  map[string]hourOf `json:"hours"`
	}
	if err := json.Unmarshal(raw, &files); err != nil || len(files) == 0 {
		t.Fatal(err, len(files))
	}
	for name, file := range files {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := newTestBrowser(t)
			text, err := os.ReadFile(filepath.Join("../testdata/loggers", name))
			if err != nil {
				t.Fatal(err)
			}
			at := "/S/" + b.room("loft", "40") + "/logger"
			p := b.sendLogger(at, string(text), nil).ok()
			changes := []string{"act", "keep"}
			for field, value := range file.Fields {
				changes = append(changes, field, value)
			}
			_, fields := p.form("main form", changes...)
			b.sendLogger(at, "", fields).led()
			got := b.hoursOf("loft")
			for hour, want := range file.Hours {
				if has := got[hour]; has.Readings != want.Readings || math.Abs(has.TempC-want.TempC) > 1e-4 || math.Abs(has.RHPct-want.RHPct) > 1e-4 {
					t.Errorf("%s: %+v, want %+v", hour, has, want)
				}
				delete(got, hour)
			}
			for hour, has := range got {
				t.Errorf("%s: %+v, and there is no such hour in the file", hour, has)
			}
		})
	}
}

// hoursOf adds up the readings of a place by the hours of UTC.
func (h *house) hoursOf(place string) map[string]hourOf {
	h.t.Helper()
	out := map[string]hourOf{}
	for after := ""; ; {
		var page struct {
			Readings []struct {
				At    time.Time `json:"at"`
				TempC float64   `json:"temp_c"`
				RHPct float64   `json:"rh_pct"`
			} `json:"readings"`
			Next *string `json:"next"`
		}
		h.get("/api/v1/readings?limit=200&place=" + place + "&after=" + after).want(200).into(&page)
		for _, r := range page.Readings {
			hour := r.At.UTC().Truncate(time.Hour).Format(time.RFC3339)
			was := out[hour]
			n := float64(was.Readings)
			out[hour] = hourOf{was.Readings + 1, (was.TempC*n + r.TempC) / (n + 1), (was.RHPct*n + r.RHPct) / (n + 1)}
		}
		if page.Next == nil {
			return out
		}
		after = *page.Next
	}
}
