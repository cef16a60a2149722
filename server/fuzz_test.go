package server

import (
	"bytes"
	"encoding/json"
	"image/jpeg"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bagmark/store"

	"pgregory.net/rapid"
)

// serveHere answers a request without a network, as often as a fuzzer likes,
// for the one test t.
func (h house) serveHere(t testing.TB, r *http.Request) *reply {
	h.t = t
	w := httptest.NewRecorder()
	r.Host = "127.0.0.1"
	h.server.Handler().ServeHTTP(w, r)
	got := &reply{t: h.t, what: r.Method + " " + r.URL.RequestURI(), status: w.Code, header: w.Header(), body: w.Body.Bytes()}
	h.checkAnswer(got, r.Method, r.URL.Path)
	return got
}

// FuzzMultipart: whatever a form of a picture holds, it is kept or refused.
func FuzzMultipart(f *testing.F) {
	h := newHouse(f)
	small := jpegOf(f, 16, 12)
	f.Add("b", []byte("--b\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"x\"\r\n\r\n"+string(small)+"\r\n--b--\r\n"))
	f.Add("b", []byte("--b\r\nContent-Disposition: form-data; name=\"other\"\r\n\r\nx\r\n--b"))
	f.Add("", []byte("--\r\n\r\n--"))
	f.Add("b", []byte("--b\r\nContent-Disposition: form-data; name=\"photo\"\r\n\r\n"))
	f.Fuzz(func(t *testing.T, boundary string, body []byte) {
		for _, path := range []string{"/api/v1/photos", "/api/v1/scans"} {
			r := httptest.NewRequest("POST", path, bytes.NewReader(body))
			r.Header.Set("Authorization", "Bearer "+h.tokens[store.Grower])
			r.Header.Set("Content-Type", `multipart/form-data; boundary="`+boundary+`"`)
			if got := h.serveHere(t, r); got.status >= 500 || got.status == 401 {
				t.Errorf("%s: %d: %s", path, got.status, got.body)
			}
		}
	})
}

// FuzzPhoto: what becomes of a picture is a JPEG of the size that is told, which
// the standard library reads.
func FuzzPhoto(f *testing.F) {
	f.Add(jpegOf(f, 40, 30))
	f.Add(withExif(jpegOf(f, 40, 30), 6, "where it was"))
	f.Add([]byte("\x89PNG\r\n\x1a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if head, err := jpeg.DecodeConfig(bytes.NewReader(data)); err == nil && head.Width*head.Height > 1<<22 {
			t.Skip("large ones are for TestMemoryUnderLoad")
		}
		kept, err := preparePhoto(data)
		if err != nil {
			if status := statusOf(asError(err).Kind); status >= 500 {
				t.Errorf("%v", err)
			}
			return
		}
		head, err := jpeg.DecodeConfig(bytes.NewReader(kept.JPEG))
		if err != nil || head.Width != kept.Width || head.Height != kept.Height || max(head.Width, head.Height) > longestSide {
			t.Errorf("kept as %d × %d, read as %+v, %v", kept.Width, kept.Height, head, err)
		}
	})
}

// TestRequestsFromTheDescription makes requests from openapi.yaml, some right and
// some not, and holds every answer to it; none is a failure of the server.
func TestRequestsFromTheDescription(t *testing.T) {
	t.Parallel()
	rapid.Check(t, newHouse(t).requests(t))
}

func FuzzRequestsFromTheDescription(f *testing.F) {
	h := newHouse(f)
	f.Fuzz(func(t *testing.T, data []byte) { rapid.MakeFuzz(h.requests(t))(t, data) })
}

// requests is the property that the tests above try.
func (h house) requests(t testing.TB) func(*rapid.T) {
	h.t = t
	batch, bags := h.kings("3", "")
	known := map[string][]string{"batch": {batch}, "code": bags, "slug": {"pleurotus-eryngii"}, "key": {"flow_hood", "gloves"}, "sheet": {"a4-3x7-63.5x38.1"},
		"bag": bags, "species": {"pleurotus-eryngii", "hericium-erinaceus"}, "by": {"flow_hood", "strain"}, "kind": nil}
	names := slices.Sorted(maps.Keys(openAPI().Paths))
	return func(r *rapid.T) {
		d := drawing{r, known}
		path := rapid.SampledFrom(names).Draw(r, "path")
		methods := slices.DeleteFunc(slices.Sorted(maps.Keys(openAPI().Paths[path])), func(m string) bool { return m == "parameters" })
		method := rapid.SampledFrom(methods).Draw(r, "method")
		operation := openAPI().Paths[path][method].(map[string]any)
		request := httptest.NewRequest(strings.ToUpper(method), d.address(path, operation), bytes.NewReader(d.body(operation)))
		request.Header.Set("Authorization", "Bearer "+h.tokens[store.Owner])
		request.Header.Set("Content-Type", "application/json")
		if got := h.serveHere(t, request); got.status >= 500 || got.status == http.StatusUnauthorized {
			r.Fatalf("%s: %d: %s", got.what, got.status, got.body)
		}
	}
}

// drawing draws what a description describes, and now and then what it does not.
type drawing struct {
	*rapid.T
	known map[string][]string // values that this farm knows, by name
}

var inBraces = regexp.MustCompile(`\{(\w+)\}`)

func (d drawing) address(path string, operation map[string]any) string {
	query := url.Values{}
	for _, p := range list(operation["parameters"]) {
		parameter := openAPI().find(p)
		if name := parameter["name"].(string); parameter["in"] == "query" && rapid.Bool().Draw(d.T, "with "+name) {
			query.Set(name, d.text(name))
		}
	}
	path = inBraces.ReplaceAllStringFunc(path, func(name string) string { return url.PathEscape(d.text(name[1 : len(name)-1])) })
	return path + "?" + query.Encode()
}

func (d drawing) body(operation map[string]any) []byte {
	content, ok := openAPI().find(operation["requestBody"])["content"].(map[string]any)
	if !ok {
		return nil
	}
	media, ok := content["application/json"].(map[string]any)
	if !ok {
		return rapid.SliceOf(rapid.Byte()).Draw(d.T, "bytes")
	}
	text, err := json.Marshal(d.value("body", media["schema"], 0))
	if err != nil {
		d.Fatal(err)
	}
	return text
}

func (d drawing) text(name string) string {
	if some := d.known[name]; len(some) > 0 && rapid.IntRange(0, 3).Draw(d.T, "known") > 0 {
		return rapid.SampledFrom(some).Draw(d.T, name)
	}
	return rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"1", "0", "-1", "999999999999", "2026-11-22", "2026-11-23T10:00:00Z", "10000000-0000-4000-8000-000000000001",
		"colonised", "contaminated", "look", "note", "void", "harvest", "green_mould", "1-2", "7K3M9QXR", "=1+1", "'; --"})).Draw(d.T, name)
}

func (d drawing) value(name string, schema any, depth int) any {
	s := flatten(openAPI().find(schema))
	if rapid.IntRange(0, 14).Draw(d.T, "wrong") == 0 || depth > 6 {
		return rapid.SampledFrom([]any{nil, "", -1.0, 1e300, true, []any{}, map[string]any{"x": 1.0}, strings.Repeat("é", 3000)}).Draw(d.T, name)
	}
	if enum := list(s["enum"]); len(enum) > 0 {
		return rapid.SampledFrom(enum).Draw(d.T, name)
	}
	kind, _ := s["type"].(string)
	if kinds := list(s["type"]); len(kinds) > 0 {
		kind, _ = rapid.SampledFrom(kinds).Draw(d.T, "type of "+name).(string)
	}
	switch kind {
	case "object":
		return d.object(s, depth)
	case "array":
		out := []any{}
		for range rapid.IntRange(0, 3).Draw(d.T, "items of "+name) {
			out = append(out, d.value(strings.TrimSuffix(name, "s"), s["items"], depth+1))
		}
		return out
	case "boolean":
		return rapid.Bool().Draw(d.T, name)
	case "integer":
		return rapid.IntRange(-2, 40).Draw(d.T, name)
	case "number":
		return rapid.Float64Range(-10, 200).Draw(d.T, name)
	case "null":
		return nil
	}
	return d.text(name)
}

func (d drawing) object(s map[string]any, depth int) map[string]any {
	out := map[string]any{}
	properties, _ := s["properties"].(map[string]any)
	required := list(s["required"])
	for _, name := range slices.Sorted(maps.Keys(properties)) {
		if slices.Contains(required, any(name)) || rapid.IntRange(0, 2).Draw(d.T, "with "+name) == 0 {
			out[name] = d.value(name, properties[name], depth+1)
		}
	}
	if more, ok := s["additionalProperties"].(map[string]any); ok {
		out[d.text("key")] = d.value("value", more, depth+1)
	}
	return out
}
