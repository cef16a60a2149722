package server

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/PuerkitoBio/goquery"
)

// browser is somebody signed in who reads pages and posts forms, following no
// redirect by itself.
type browser struct {
	*house
	cookies map[string]string
}

// browser signs Ana, the farm's owner, in.
func (h *house) browser() *browser {
	return &browser{h, map[string]string{cookieHTTP: h.ana().Secret}}
}

// page is an answer as a browser sees it.
type page struct {
	*reply
	*goquery.Document
}

func (b *browser) open(path string) page {
	b.t.Helper()
	return b.take(b.request("GET", path, ""))
}

// submit posts a form.
func (b *browser) submit(path string, v url.Values) page {
	b.t.Helper()
	r := b.request("POST", path, v.Encode())
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.take(r)
}

func (b *browser) take(r *http.Request) page {
	b.t.Helper()
	r.Header.Del("Authorization")
	for name, value := range b.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	got := b.send(r)
	for name, c := range cookiesOf(got.header) {
		b.cookies[name] = c.Value
		if c.MaxAge < 0 {
			delete(b.cookies, name)
		}
	}
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(got.body))
	if err != nil {
		b.t.Fatal(err)
	}
	return page{got, doc}
}

// ok fails at once unless the page was given.
func (p page) ok() page { p.t.Helper(); p.want(http.StatusOK); return p }

// led is where the answer leads.
func (p page) led() string {
	p.t.Helper()
	p.want(http.StatusSeeOther)
	return p.header.Get("Location")
}

// says fails unless the text of the first match holds the words.
func (p page) says(selector, words string) page {
	p.t.Helper()
	text := strings.Join(strings.Fields(p.Find(selector).Text()), " ")
	if !strings.Contains(text, words) {
		p.t.Errorf("%s: %s says %q, want %q in it", p.what, selector, text, words)
	}
	return p
}

// has fails unless so many elements match.
func (p page) has(n int, selector string) page {
	p.t.Helper()
	if got := p.Find(selector).Length(); got != n {
		p.t.Errorf("%s: %d of %s, want %d", p.what, got, selector, n)
	}
	return p
}

// form gives the fields of the first form that matches, filled in as the page
// sent it, with changes laid over.
func (p page) form(selector string, changes ...string) (action string, v url.Values) {
	p.t.Helper()
	f := p.Find(selector).First()
	if f.Length() == 0 {
		p.t.Fatalf("%s: no form %s", p.what, selector)
	}
	action, _ = f.Attr("action")
	v = url.Values{}
	f.Find("input, textarea, select, button").Each(func(_ int, s *goquery.Selection) {
		name, _ := s.Attr("name")
		value, _ := s.Attr("value")
		kind, _ := s.Attr("type")
		_, checked := s.Attr("checked")
		switch {
		case name == "" || kind == "file" || goquery.NodeName(s) == "button":
		case (kind == "checkbox" || kind == "radio") && !checked:
		case goquery.NodeName(s) == "textarea":
			v.Add(name, s.Text())
		case goquery.NodeName(s) == "select":
			option := s.Find("option[selected]")
			if option.Length() == 0 {
				option = s.Find("option").First()
			}
			value, given := option.Attr("value")
			if !given {
				value = option.Text()
			}
			v.Add(name, value)
		default:
			v.Add(name, value)
		}
	})
	for i := 0; i+1 < len(changes); i += 2 {
		v.Set(changes[i], changes[i+1])
	}
	return action, v
}

// fill posts a form of a page.
func (b *browser) fill(p page, selector string, changes ...string) page {
	b.t.Helper()
	action, v := p.form(selector, changes...)
	return b.submit(action, v)
}

// bag is a bag as the store has it.
func (h *house) bag(code string) store.Bag {
	h.t.Helper()
	b, err := h.store.Bag(h.t.Context(), grow.Code(code))
	if err != nil {
		h.t.Fatal(err)
	}
	return b
}

// saw posts one entry through the API, as another program would.
func (h *house) saw(code, entry string) {
	h.t.Helper()
	fresh, err := newID()
	if err != nil {
		h.t.Fatal(err)
	}
	h.post("/api/v1/bags/"+code+"/entries", `{"id":"`+string(fresh)+`",`+entry+`}`).want(201)
}

// kinds are the kinds of a bag's entries, oldest first.
func kinds(b store.Bag) []grow.EntryKind {
	var out []grow.EntryKind
	for _, e := range slices.Backward(b.Entries) {
		out = append(out, e.Kind)
	}
	return out
}

// days moves the clock on by whole days.
func (h *house) days(n int) { h.clock.move(time.Duration(n) * 24 * time.Hour) }

func newTestBrowser(t *testing.T) *browser { t.Helper(); return newHouse(t).browser() }

// upload posts a picture as a browser's form does.
func (b *browser) upload(path string, data []byte) page {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("photo", "photo.jpg")
	if err != nil {
		b.t.Fatal(err)
	}
	part.Write(data)
	if err := form.Close(); err != nil {
		b.t.Fatal(err)
	}
	r := b.request("POST", path, body.String())
	r.Header.Set("Content-Type", form.FormDataContentType())
	return b.take(r)
}
