package server

import (
	"net/netip"
	"os"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/store"
)

func TestHostsThatTheFarmAnswersTo(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	if err := h.store.SetPublic(t.Context(), "http://BAGS.FARM.EXAMPLE:8080"); err != nil {
		t.Fatal(err)
	}
	machine, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(machine, ".")
	hosts := map[string]int{
		"localhost": 200, "LOCALHOST:99": 200, "127.0.0.1": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200, "127.8.9.1": 200,
		"bags.farm.example": 200, "Bags.Farm.Example:8080": 200, "bags.farm.example.": 200, machine: 200, first + ".local:8080": 200,
		"evil.example": 400, "evil.example:8080": 400, "localhost.evil.example": 400, "farm.example": 400, "203.0.113.7": 400, "[2001:db8::1]:8080": 400,
		"xbags.farm.example": 400, ":8080": 400, "127.0.0.1.evil.example": 400,
	}
	for _, a := range interfaceAddresses() {
		if a.Is4() {
			hosts[a.String()] = 200
		}
	}
	for host, want := range hosts {
		r := h.request("GET", "/api/v1/settings", "")
		r.Host = host
		got := h.send(r)
		if got.status != want {
			t.Errorf("%s: status %d, want %d: %s", host, got.status, want, got.body)
		}
		if want == 400 && !strings.Contains(got.refused(400, "invalid").Error.Message, "http://bags.farm.example:8080") {
			t.Errorf("%s: the refusal does not say where to go: %s", host, got.body)
		}
	}
}

func TestFarmAddress(t *testing.T) {
	t.Parallel()
	lan := []netip.Addr{netip.MustParseAddr("127.0.0.1"), netip.MustParseAddr("fd00::1"), netip.MustParseAddr("203.0.113.7"),
		netip.MustParseAddr("192.168.1.20"), netip.MustParseAddr("10.0.0.5")}
	for _, test := range []struct {
		name, public, listened string
		own                    []netip.Addr
		want                   grow.Address
	}{
		{"set by the owner", "https://BAGS.FARM.EXAMPLE", "http://[::]:8080", lan, "https://BAGS.FARM.EXAMPLE"},
		{"first private address", "", "http://[::]:8080", lan, "http://192.168.1.20:8080"},
		{"port 80 is not written", "", "http://0.0.0.0:80", lan, "http://192.168.1.20"},
		{"listening on one of several", "", "http://10.0.0.5:8080", lan, "http://10.0.0.5:8080"},
		{"listening on this machine alone", "", "http://127.0.0.1:8080", lan, "http://192.168.1.20:8080"},
		{"no network", "", "http://127.0.0.1:8080", nil, "http://127.0.0.1:8080"},
		{"no network, all interfaces", "", "http://[::]:8080", nil, "http://LOCALHOST:8080"},
		{"no network, IPv6", "", "http://[::1]:8080", nil, "http://LOCALHOST:8080"},
		{"never served", "", "", nil, "http://LOCALHOST"},
	} {
		farm := &store.Farm{Settings: store.Settings{Public: test.public, Listened: test.listened}}
		got := farmAddress(farm, test.own)
		if got != test.want {
			t.Errorf("%s: %s, want %s", test.name, got, test.want)
		}
		if again, err := grow.ParseAddress(string(got)); err != nil || again != got {
			t.Errorf("%s: %s cannot stand in a symbol: %v", test.name, got, err)
		}
	}
}
