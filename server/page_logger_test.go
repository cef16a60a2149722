package server

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/url"
	"strings"
	"testing"
)

// sendLogger posts a logger's file, or the form that follows it.
func (b *browser) sendLogger(path, file string, fields url.Values) page {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name := range fields {
		form.WriteField(name, fields.Get(name))
	}
	if file != "" {
		w, err := form.CreateFormFile("file", "loft.csv")
		if err != nil {
			b.t.Fatal(err)
		}
		w.Write([]byte(file))
	}
	if err := form.Close(); err != nil {
		b.t.Fatal(err)
	}
	r := b.request("POST", path, body.String())
	r.Header.Set("Content-Type", form.FormDataContentType())
	return b.take(r)
}

// autumn is a logger's file over the night when Lisbon's clocks go back, in °F,
// with semicolons, a hole of five hours and a clock two hours slow.
func autumn() string {
	var text strings.Builder
	text.WriteString("Loft logger;7\nDate;Time;Temp (°F);Hum\n")
	for _, hour := range []int{21, 22, 23} {
		for minute := 0; minute < 60; minute += 10 {
			fmt.Fprintf(&text, "24/10/2026;%02d:%02d;71,6;90\n", hour, minute)
		}
	}
	for _, hour := range []int{0, 1, 1, 2, 8} {
		for minute := 0; minute < 60; minute += 10 {
			fmt.Fprintf(&text, "25/10/2026;%02d:%02d;70,7;90\n", hour, minute)
		}
	}
	return text.String() + "25/10/2026;09:00;broken;90\n"
}

func TestALoggersFile(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	code := b.room("loft", "40")
	at := "/S/" + code + "/logger"
	p := b.sendLogger(at, autumn(), nil).ok()
	p.says("main", "48 readings, from Sat 24 Oct 21:00 to Sun 25 Oct 08:50").says("main", "Temperature from 21.5 to 22.0 °C").
		says("main", "1 time without readings; the longest is 5 hours").says(".note.bad", "line 51").says("table", "Sat 24 Oct 21:00").has(1, `select[name=unit] option[value=f][selected]`)
	checkMarkup(t, p)
	content := p.Find(`input[name=content]`).AttrOr("value", "")
	fields := url.Values{"act": {"keep"}, "name": {"loft.csv"}, "content": {content}, "time": {"Date"}, "clock": {"Time"}, "temp": {"Temp (°F)"}, "unit": {"f"}, "rh": {"Hum"}, "order": {"dmy"}, "zone": {"farm"}}
	b.sendLogger(at, "", fields).led()
	var list struct {
		Readings []struct{ At string }
	}
	b.get("/api/v1/readings?place=loft&limit=200").want(200).into(&list)
	if len(list.Readings) != 48 {
		t.Errorf("%d readings on record", len(list.Readings))
	}
	if p := b.sendLogger(at, autumn(), nil).ok(); !strings.Contains(p.Text(), "Read like the last file") {
		t.Error("the mapping was not remembered")
	}
	b.sendLogger(at, "", fields).led() // the same file again is known
	b.get("/api/v1/readings?place=loft&limit=200").want(200).into(&list)
	if len(list.Readings) != 48 {
		t.Errorf("%d readings after the file came twice", len(list.Readings))
	}
	if p := b.sendLogger(at, "nothing here", nil); p.status != 400 {
		t.Errorf("no table: %d", p.status)
	}
	fields.Set("shows", "2026-11-25T10:00") // it is noon
	fields.Set("act", "look")
	b.sendLogger(at, "", fields).ok().says("main", "from Sat 24 Oct 23:00")
}
