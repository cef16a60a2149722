package server

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
)

const table = `batch,species,inoculated_on,clean_on,contaminated_on,condition:flow_hood,condition:bag_maker
A1K,king oyster,2026-11-01,2026-11-09,,on,old box
A1K,king oyster,2026-11-01,2026-11-06,2026-11-09,off,old box
lion spring,lion's mane,2026-11-02,2026-11-09,,,new <box>
`

// sendForm posts one part of a multipart form, as a browser's form does.
func (b *browser) sendForm(path, name, file, content string) page {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	create := form.CreateFormField
	if file != "" {
		create = func(name string) (io.Writer, error) { return form.CreateFormFile(name, file) }
	}
	part, err := create(name)
	if err != nil {
		b.t.Fatal(err)
	}
	part.Write([]byte(content))
	if err := form.Close(); err != nil {
		b.t.Fatal(err)
	}
	r := b.request("POST", path, body.String())
	r.Header.Set("Content-Type", form.FormDataContentType())
	return b.take(r)
}

// A table is looked at, then taken in; only then anything is there.
func TestImportPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/settings").ok().has(1, `main a[href="/import"]`)
	b.open("/old-bags").ok().has(1, `main a[href="/import"]`)
	good := strings.ReplaceAll(table, "new <box>", "new box")
	seen := b.sendForm("/import", "file", "racks.csv", good).ok()
	seen.says("main", "2 batches with 3 bags and 4 entries").says("table", "lion spring").says(".note", "bag maker (new box, old box)").has(3, "table tr")
	checkMarkup(t, seen)
	b.open("/batches").ok().has(0, `a[href="/batches/A1K"]`)
	_, v := seen.form(`form[action="/import"]`)
	led := b.sendForm("/import", "content", "", v.Get("content")).led()
	b.open(led).ok().says("[role=status]", "2 batches with 3 bags")
	if got := b.get("/api/v1/batches/A1K").want(200); got.at("counts", "contaminated") != 1.0 {
		t.Errorf("%s", got.body)
	}
	again := b.sendForm("/import", "content", "", v.Get("content"))
	again.want(http.StatusBadRequest)
	again.says("[role=alert]", "is on this farm already")
}

func TestImportPageRefuses(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	bad := b.sendForm("/import", "file", "racks.csv", table+strings.Repeat("A1K,king oyster,2026-11-01,,,,\n", 6)+"B,truffle,2026-11-01,,,,\n")
	bad.want(http.StatusBadRequest)
	bad.has(2, "[role=alert] li").says("[role=alert] li:first-child", "Line 4").says("[role=alert] li:last-child", "Line 11").has(1, "input[type=file]")
	for name, c := range map[string]struct{ field, file, content, says string }{
		"no file":           {"other", "", "x", "Choose a file"},
		"an empty file":     {"file", "racks.csv", "", "empty"},
		"no text":           {"file", "racks.csv", "\xff\xfe", "UTF-8"},
		"a broken preview":  {"content", "", "AAAA", "did not come back whole"},
		"a preview cut off": {"content", "", "H4sIAAAAAAAA/0rOz0nVAAIAAP//", "did not come back whole"},
	} {
		got := b.sendForm("/import", c.field, c.file, c.content)
		got.want(http.StatusBadRequest)
		got.says("[role=alert]", c.says)
		if t.Failed() {
			t.Fatal(name)
		}
	}
	large := b.sendForm("/import", "file", "racks.csv", strings.Repeat("x", csvBody+1))
	large.want(http.StatusRequestEntityTooLarge)
	large.says("[role=alert]", "at most 20 MiB")
	if got := b.open("/batches").ok(); got.Find("main a[href^='/batches/']").Length() != 0 {
		t.Error("something was taken in")
	}
}
