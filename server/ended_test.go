package server

import (
	"net/http"
	"testing"
	"time"

	"bagmark/store"
)

// TestEveryRouteRefusesWhatHasEnded tries each route of the API and each page
// with a sign-in that is over: after its absolute end, after it was not used for
// long, revoked, signed out.
func TestEveryRouteRefusesWhatHasEnded(t *testing.T) {
	t.Parallel()
	for name, end := range map[string]func(*house, store.Session) error{
		"expired": func(h *house, in store.Session) error {
			for range 3 { // it is used, but 400 days are over
				h.clock.move(150 * 24 * time.Hour)
				h.send(h.signedIn(in, "GET", "/api/v1/settings", ""))
			}
			return nil
		},
		"not used for long": func(h *house, _ store.Session) error {
			h.clock.move(181 * 24 * time.Hour)
			return nil
		},
		"revoked": func(h *house, in store.Session) error {
			return h.store.RevokeDevice(t.Context(), in.Actor, in.Actor.DeviceID)
		},
		"signed out": func(h *house, in store.Session) error {
			return h.store.SignOut(t.Context(), in.Actor)
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h := newHouse(t)
			in := h.ana()
			h.send(h.signedIn(in, "GET", "/api/v1/settings", "")).want(http.StatusOK)
			if err := end(h, in); err != nil {
				t.Fatal(err)
			}
			for _, route := range h.server.apiRoutes() {
				if route.least != anyone {
					h.send(h.signedIn(in, route.method, example(route.path), "")).refused(http.StatusUnauthorized, "unauthorized")
				}
			}
			for _, route := range h.server.pageRoutes() {
				if route.least == anyone {
					continue
				}
				got := h.send(h.signedIn(in, route.method, example(route.path), ""))
				if signIn := got.header.Get("Location"); got.status != http.StatusUnauthorized && (got.status != http.StatusSeeOther || len(signIn) < len("/sign-in") || signIn[:len("/sign-in")] != "/sign-in") {
					t.Errorf("%s %s: status %d, to %q", route.method, route.path, got.status, signIn)
				}
			}
		})
	}
}
