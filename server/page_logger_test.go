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

// minutes is a logger's file of so many rows, a reading every ten minutes.
func minutes(rows int, temp string) string {
	text := strings.Builder{}
	text.WriteString("Time;Temp (°C);Hum\n")
	for i := range rows {
		fmt.Fprintf(&text, "20.11.2026 %02d:%02d;%s;90\n", i/6, i%6*10, temp)
	}
	return text.String()
}

// TestALoggersFileBesideAnother: rows at instants that have another reading are
// left as they are, and said once.
func TestALoggersFileBesideAnother(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	at := "/S/" + b.room("loft", "40")
	keep := func(file string) page {
		t.Helper()
		_, fields := b.sendLogger(at+"/logger", file, nil).ok().form("main form", "act", "keep")
		b.sendLogger(at+"/logger", "", fields).led()
		return b.open(at + "/air?did=said").ok()
	}
	keep(minutes(5, "21,5")).says(".did", "5 of 5 kept.").has(1, ".did button[name=source]")
	p := b.sendLogger(at+"/logger", minutes(15, "23,5"), nil).ok()
	p.says("main", "5 of 15 rows stand at instants that have a reading already; they are left as they are.").has(1, `button[value=keep]`)
	keep(minutes(15, "23,5")).says(".did", "10 of 15 kept, 5 had a reading already.")
	p = b.sendLogger(at+"/logger", minutes(5, "24"), nil).ok()
	p.says("main", "5 of 5 rows stand at instants").says("main", "Nothing to keep.").has(0, `button[value=keep]`)
	_, fields := p.form("main form", "act", "keep")
	p = b.sendLogger(at+"/logger", minutes(5, "21,5"), nil).ok()
	p.says("main", "All are on record already: nothing to keep.").has(0, `button[value=keep]`)
	if p = b.sendLogger(at+"/logger", "", fields); p.status != 400 || strings.Count(p.Text(), "another reading already") != 1 {
		t.Errorf("every row against another reading: %d, %d sentences", p.status, strings.Count(p.Text(), "another reading already"))
	}
	b.sendLogger(at+"/logger", "Time, GMT-05:00;Temp (°C)\n21.11.2026 03:00;21\n", nil).ok().
		says("main", "Its clock is read as UTC-05:00.").has(1, `select[name=zone] option[value="utc-05:00"][selected]`)
	b.sendLogger(at+"/logger", "Time;Temp (°F);Hum\n21.11.2026 10:00;70;90\n21.11.2026 10:10;ERR;---\n21.11.2026 10:20;300;90\n21.11.2026 10:30;;\n", nil).ok().
		says(".note.bad", "2 rows left out, unreadable").says(".note.bad", `line 3: "ERR", "---" is no reading`).says(".note.bad", "line 4: temperature must be -40 to 185 °F")
}
