package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"bagmark/store"

	"gopkg.in/yaml.v3"
)

// document is the part of an OpenAPI 3.1 description that tests look at.
type document struct {
	Paths      map[string]map[string]any `yaml:"paths"`
	Components map[string]map[string]any `yaml:"components"`
}

var openAPI = sync.OnceValue(func() document {
	var d document
	if err := yaml.Unmarshal(description, &d); err != nil {
		panic(err)
	}
	return d
})

// find follows a reference like #/components/schemas/Bag.
func (d document) find(v any) map[string]any {
	m, _ := v.(map[string]any)
	ref, ok := m["$ref"].(string)
	if !ok {
		return m
	}
	part := strings.Split(ref, "/")
	found, ok := d.Components[part[2]][part[3]]
	if !ok {
		panic("openapi.yaml: nothing at " + ref)
	}
	return d.find(found)
}

var pathParameter = regexp.MustCompile(`:(\w+)`)

// described are the routes that the description must have, as it writes them.
func described(s *Server) map[string]route {
	out := map[string]route{}
	for _, r := range s.apiRoutes() {
		out[strings.ToLower(r.method)+" "+pathParameter.ReplaceAllString(r.path, "{$1}")] = r
	}
	return out
}

func TestDescriptionAndRouteTableAgree(t *testing.T) {
	t.Parallel()
	routes := described(newHouse(t).server)
	seen := map[string]bool{}
	for path, operations := range openAPI().Paths {
		for method, raw := range operations {
			if method == "parameters" {
				continue
			}
			name := method + " " + path
			seen[name] = true
			r, ok := routes[name]
			if !ok {
				t.Errorf("%s is described and not served", name)
				continue
			}
			checkOperation(t, name, r, operations, raw.(map[string]any))
		}
	}
	for name := range routes {
		if !seen[name] {
			t.Errorf("%s is served and not described", name)
		}
	}
}

func checkOperation(t *testing.T, name string, r route, path, operation map[string]any) {
	t.Helper()
	least := string(r.least)
	if r.least == anyone {
		least = "anyone"
	}
	if operation["x-least-role"] != least {
		t.Errorf("%s: described for %v, served for %s", name, operation["x-least-role"], least)
	}
	if _, open := operation["security"]; open != (r.least == anyone) {
		t.Errorf("%s: security is described as %v", name, operation["security"])
	}
	if _, body := operation["requestBody"]; body != (r.body > 0) {
		t.Errorf("%s: a request body is described: %v, served: %v", name, body, r.body > 0)
	}
	var named []string
	for _, raw := range slices.Concat(list(path["parameters"]), list(operation["parameters"])) {
		if p := openAPI().find(raw); p["in"] == "path" {
			named = append(named, p["name"].(string))
		}
	}
	for _, m := range pathParameter.FindAllStringSubmatch(r.path, -1) {
		if !slices.Contains(named, m[1]) {
			t.Errorf("%s: the part %s of the path is not described", name, m[1])
		}
	}
	if responses := operation["responses"].(map[string]any); len(responses) < 2 && r.least != anyone {
		t.Errorf("%s: no refusal is described", name)
	}
}

func list(v any) []any { l, _ := v.([]any); return l }

// TestEveryReferenceLeadsSomewhere also finds what is described and never used.
func TestEveryReferenceLeadsSomewhere(t *testing.T) {
	t.Parallel()
	used := map[string]bool{}
	for _, m := range regexp.MustCompile(`#/components/(\w+/\w+)`).FindAllStringSubmatch(string(description), -1) {
		used[m[1]] = true
	}
	for kind, things := range openAPI().Components {
		for name := range things {
			if kind != "securitySchemes" && !used[kind+"/"+name] {
				t.Errorf("%s %s is described and never used", kind, name)
			}
			delete(used, kind+"/"+name)
		}
	}
	for name := range used {
		t.Errorf("%s is used and not described", name)
	}
}

// checkAnswer compares an answer of the API with its description. Every test's
// every request goes through it.
func (h *house) checkAnswer(r *reply, method, path string) {
	h.t.Helper()
	if !strings.HasPrefix(r.header.Get("Content-Type"), "application/json") || method == http.MethodHead {
		return
	}
	var value any
	r.into(&value)
	for name, route := range described(h.server) {
		shape := regexp.MustCompile("^" + pathParameter.ReplaceAllString(regexp.QuoteMeta(route.path), "[^/]+") + "$")
		if route.method != method || !shape.MatchString(path) {
			continue
		}
		_, at, _ := strings.Cut(name, " ")
		responses := openAPI().Paths[at][strings.ToLower(method)].(map[string]any)["responses"].(map[string]any)
		answer, ok := responses[strconv.Itoa(r.status)]
		if !ok {
			answer, ok = responses["default"]
		}
		content, _ := openAPI().find(answer)["content"].(map[string]any)["application/json"].(map[string]any)
		if !ok || content == nil {
			h.t.Errorf("%s: a JSON answer %d is not described", r.what, r.status)
			return
		}
		for _, problem := range conforms(content["schema"], value, "") {
			h.t.Errorf("%s: %s", r.what, problem)
		}
		return
	}
}

// conforms compares a JSON value with a schema, as far as the description uses
// JSON Schema (draft 2020-12): type, enum, const, pattern, properties,
// required, additionalProperties, items, allOf. A field that is not described
// is a problem too: the description is to be whole.
func conforms(schema, value any, at string) []string {
	s := flatten(openAPI().find(schema))
	var out []string
	note := func(format string, args ...any) {
		out = append(out, fmt.Sprintf("%q: ", at)+fmt.Sprintf(format, args...))
	}
	if kinds := s["type"]; kinds != nil && !isOfType(kinds, value) {
		note("%v is not of type %v", value, kinds)
		return out
	}
	if enum := list(s["enum"]); enum != nil && !slices.Contains(enum, value) {
		note("%v is not one of %v", value, enum)
	}
	if c, ok := s["const"]; ok && c != value {
		note("%v is not %v", value, c)
	}
	if pattern, ok := s["pattern"].(string); ok && !regexp.MustCompile(pattern).MatchString(value.(string)) {
		note("%v does not match %s", value, pattern)
	}
	switch v := value.(type) {
	case map[string]any:
		out = append(out, conformsObject(s, v, at)...)
	case []any:
		for i, item := range v {
			out = append(out, conforms(s["items"], item, fmt.Sprintf("%s[%d]", at, i))...)
		}
	}
	return out
}

func conformsObject(s map[string]any, v map[string]any, at string) (out []string) {
	properties, _ := s["properties"].(map[string]any)
	for _, name := range list(s["required"]) {
		if _, ok := v[name.(string)]; !ok {
			out = append(out, fmt.Sprintf("%q: lacks %v", at, name))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(v)) {
		schema, ok := properties[name]
		if !ok {
			if schema, ok = s["additionalProperties"]; !ok {
				out = append(out, fmt.Sprintf("%q: %s is not described", at, name))
				continue
			}
		}
		out = append(out, conforms(schema, v[name], at+"."+name)...)
	}
	return out
}

// flatten joins the parts of allOf.
func flatten(s map[string]any) map[string]any {
	parts := list(s["allOf"])
	if parts == nil {
		return s
	}
	properties, required := map[string]any{}, []any{}
	for _, part := range parts {
		p := flatten(openAPI().find(part))
		if some, ok := p["properties"].(map[string]any); ok {
			maps.Copy(properties, some)
		}
		required = append(required, list(p["required"])...)
	}
	return map[string]any{"type": "object", "properties": properties, "required": required}
}

func isOfType(kinds, value any) bool {
	if some, ok := kinds.([]any); ok {
		return slices.ContainsFunc(some, func(k any) bool { return isOfType(k, value) })
	}
	switch v := value.(type) {
	case nil:
		return kinds == "null"
	case string:
		return kinds == "string"
	case bool:
		return kinds == "boolean"
	case float64:
		return kinds == "number" || kinds == "integer" && v == float64(int64(v))
	case []any:
		return kinds == "array"
	}
	return kinds == "object"
}

// TestConformsFindsWhatIsWrong guards the guard.
func TestConformsFindsWhatIsWrong(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ name, schema, value string }{
		{"lacks a field", "Place", `{"code":"7K3M9QXR","name":"room 2"}`},
		{"field of another type", "Place", `{"code":"7K3M9QXR","name":2,"payload":""}`},
		{"field not described", "Place", `{"code":"7K3M9QXR","name":"room 2","payload":"","size":3}`},
		{"pattern", "Place", `{"code":"7k3m9qxr","name":"room 2","payload":""}`},
		{"enum", "EntryDraft", `{"id":"x","kind":"dance"}`},
		{"inside a list", "Places", `{"places":[{"code":"7K3M9QXR","name":null,"payload":""}]}`},
		{"inside allOf", "Batch", `{"code":"KING-261122"}`},
	} {
		var v any
		if err := json.Unmarshal([]byte(test.value), &v); err != nil {
			t.Fatal(err)
		}
		if got := conforms(map[string]any{"$ref": "#/components/schemas/" + test.schema}, v, ""); len(got) == 0 {
			t.Errorf("%s: nothing was found wrong with %s", test.name, test.value)
		}
	}
}

func TestDescriptionIsServedToAnyone(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	r := h.request("GET", "/api/v1/openapi.yaml", "")
	r.Header.Del("Authorization")
	got := h.send(r).want(200)
	if kind := got.header.Get("Content-Type"); !strings.HasPrefix(kind, "application/yaml") {
		t.Errorf("Content-Type %q", kind)
	}
	if string(got.body) != string(description) {
		t.Error("another description is served")
	}
}

func TestHealth(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, role := range []store.Role{"", store.Sensor} {
		r := h.as(role, h.request("GET", "/healthz", ""))
		if got := string(h.send(r).want(200).body); strings.TrimSpace(got) != `{"now":"2026-11-25T12:00:00.000Z","status":"ok","version":"1.2.3"}` {
			t.Errorf("healthz says %s", got)
		}
	}
	if err := h.store.Close(); err != nil {
		t.Fatal(err)
	}
	h.get("/healthz").refused(500, "internal")
}
