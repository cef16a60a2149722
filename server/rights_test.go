package server

import (
	"net/http"
	"strings"
	"testing"

	"bagmark/store"
)

// example is a path with something in every place of it.
func example(path string) string {
	return strings.NewReplacer(":code", "7K3M9QXR", ":batch", "KING-261122", ":photo", "x", ":slug", "pleurotus-eryngii", ":key", "flow_hood").Replace(path)
}

// TestEveryRouteKeepsItsRights tries each route of the API with each role. The
// body is broken JSON: who may not write must not hear of that.
func TestEveryRouteKeepsItsRights(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, route := range h.server.apiRoutes() {
		for _, role := range store.Roles {
			t.Run(route.method+" "+route.path+" as "+string(role), func(t *testing.T) {
				body := ""
				if route.body > 0 {
					body = "{"
				}
				got := h.send(h.as(role, h.request(route.method, example(route.path), body)))
				may := route.least == anyone || role == store.Owner || role == store.Viewer && route.least == store.Viewer ||
					role == store.Grower || role == store.Sensor && route.least == store.Sensor
				if role == store.Grower && route.least == store.Owner {
					may = false
				}
				switch {
				case !may:
					got.refused(http.StatusForbidden, "forbidden")
				case got.status == http.StatusForbidden || got.status == http.StatusUnauthorized || got.status >= 500:
					t.Errorf("status %d: %s", got.status, got.body)
				case route.body > 0 && got.status == http.StatusOK:
					t.Errorf("a broken body was taken: %s", got.body)
				}
			})
		}
	}
}

// TestEveryRouteAsksWhoItIs tries each route without a token that counts.
func TestEveryRouteAsksWhoItIs(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	gone := h.revokedToken()
	for _, route := range h.server.apiRoutes() {
		if route.least == anyone {
			continue
		}
		for name, header := range map[string][]string{
			"no token":              nil,
			"a garbled token":       {"Bearer " + h.tokens[store.Owner] + "x"},
			"a token cut short":     {"Bearer " + h.tokens[store.Owner][:20]},
			"a token and a space":   {"Bearer  " + h.tokens[store.Owner]},
			"the token alone":       {h.tokens[store.Owner]},
			"another scheme":        {"Basic " + h.tokens[store.Owner]},
			"no token behind it":    {"Bearer "},
			"a revoked token":       {"Bearer " + gone},
			"two tokens":            {"Bearer " + h.tokens[store.Owner], "Bearer " + h.tokens[store.Owner]},
			"a token in lower case": {"Bearer " + strings.ToLower(h.tokens[store.Owner])},
		} {
			t.Run(route.method+" "+route.path+" with "+name, func(t *testing.T) {
				r := h.request(route.method, example(route.path), "")
				r.Header["Authorization"] = header
				got := h.send(r)
				got.refused(http.StatusUnauthorized, "unauthorized")
				if !strings.HasPrefix(got.header.Get("WWW-Authenticate"), "Bearer") { // RFC 6750, 3
					t.Errorf("WWW-Authenticate is %q", got.header.Get("WWW-Authenticate"))
				}
			})
		}
	}
}

// revokedToken is a token that an owner has ended.
func (h *house) revokedToken() string {
	h.t.Helper()
	token, err := h.store.NewToken(h.t.Context(), "a lost program", store.Owner)
	if err != nil {
		h.t.Fatal(err)
	}
	devices, err := h.store.Devices(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	for _, d := range devices {
		if d.Name == "a lost program" {
			if err := h.store.RevokeDevice(h.t.Context(), store.Actor{Role: store.Owner}, d.ID); err != nil {
				h.t.Fatal(err)
			}
			return token
		}
	}
	h.t.Fatal("the token is not among the devices")
	return ""
}

// TestRevokingEndsAtOnce uses a token before and after it is revoked.
func TestRevokingEndsAtOnce(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.get("/api/v1/batches").want(200)
	devices, err := h.store.Devices(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range devices {
		if err := h.store.RevokeDevice(t.Context(), store.Actor{Role: store.Owner}, d.ID); err != nil {
			t.Fatal(err)
		}
	}
	h.get("/api/v1/batches").refused(401, "unauthorized")
}

// TestEveryPageKeepsItsRights tries each page, by its token, as a role that may
// not open it, and as nobody.
func TestEveryPageKeepsItsRights(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, route := range h.server.pageRoutes() {
		if route.least == anyone {
			continue
		}
		path := example(route.path)
		for _, role := range store.Roles {
			if !role.May(route.least) {
				if got := h.send(h.as(role, h.request(route.method, path, ""))); got.status != http.StatusForbidden {
					t.Errorf("%s %s as %s: status %d", route.method, route.path, role, got.status)
				}
			}
		}
		r := h.request(route.method, path, "")
		r.Header.Del("Authorization")
		if got := h.send(r); got.status < 300 || got.status >= 500 || got.status == http.StatusNotFound {
			t.Errorf("%s %s as nobody: status %d", route.method, route.path, got.status)
		}
	}
}
