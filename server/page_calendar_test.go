package server

import (
	"bytes"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/google/go-cmp/cmp"
)

// component is a part of a calendar as the reader below understands it.
type component struct {
	name       string
	properties map[string][]string // value by name, parameters apart
	parameters map[string]string
	parts      []*component
}

// readCalendar is an independent reader of RFC 5545: it unfolds (3.1), splits
// properties from parameters and values, nests components (3.4), unescapes text
// (3.3.11), and refuses what the grammar does not allow.
func readCalendar(data []byte) (*component, error) {
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		return nil, fmt.Errorf("the last line has no end")
	}
	if bare := regexp.MustCompile(`[^\r]\n|\r[^\n]`).Find(data); bare != nil {
		return nil, fmt.Errorf("a line ends in %q", bare)
	}
	for _, line := range strings.Split(string(data), "\r\n") {
		if len(line) > 75 {
			return nil, fmt.Errorf("a line of %d octets: %s", len(line), line)
		}
	}
	unfolded := regexp.MustCompile("\r\n[ \t]").ReplaceAllString(string(data), "")
	root := &component{name: "root"}
	stack := []*component{root}
	for _, line := range strings.Split(strings.TrimSuffix(unfolded, "\r\n"), "\r\n") {
		m := regexp.MustCompile(`^([A-Z-]+)((?:;[A-Z-]+=[^;:",]+)*):(.*)$`).FindStringSubmatch(line)
		if m == nil {
			return nil, fmt.Errorf("no content line: %q", line)
		}
		top := stack[len(stack)-1]
		switch m[1] {
		case "BEGIN":
			part := &component{name: m[3], properties: map[string][]string{}, parameters: map[string]string{}}
			top.parts, stack = append(top.parts, part), append(stack, part)
		case "END":
			if top.name != m[3] {
				return nil, fmt.Errorf("END:%s inside %s", m[3], top.name)
			}
			stack = stack[:len(stack)-1]
		default:
			if len(stack) == 1 {
				return nil, fmt.Errorf("%q stands outside", line)
			}
			top.properties[m[1]] = append(top.properties[m[1]], m[3])
			top.parameters[m[1]] = m[2]
		}
	}
	if len(stack) != 1 || len(root.parts) != 1 {
		return nil, fmt.Errorf("%d open, %d calendars", len(stack)-1, len(root.parts))
	}
	return root.parts[0], nil
}

// value is a property that must stand just once.
func (c *component) value(t *testing.T, name string) string {
	t.Helper()
	if len(c.properties[name]) != 1 {
		t.Fatalf("%s has %d of %s", c.name, len(c.properties[name]), name)
	}
	return c.properties[name][0]
}

var unescape = strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n")

func (b *browser) fetchCalendar(t *testing.T, path string) *component {
	t.Helper()
	r := b.request("GET", path, "")
	r.Header.Del("Authorization")
	got := b.send(r).want(http.StatusOK)
	if kind := got.header.Get("Content-Type"); kind != "text/calendar; charset=utf-8" {
		t.Errorf("Content-Type %q", kind)
	}
	c, err := readCalendar(got.body)
	if err != nil {
		t.Fatalf("%v in\n%s", err, got.body)
	}
	if c.name != "VCALENDAR" || c.value(t, "VERSION") != "2.0" || c.value(t, "PRODID") == "" || len(c.parts) == 0 {
		t.Errorf("the calendar is %+v", c)
	}
	return c
}

func TestCalendarFeed(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	address := func() string {
		_, path, ok := strings.Cut(b.fill(b.open("/calendar").ok(), `main form[action="/calendar"]`).ok().Find(".secret").Text(), "/calendar/")
		if !ok || !strings.HasSuffix(path, ".ics") {
			t.Fatalf("no address: %q", path)
		}
		return "/calendar/" + path
	}
	first := address()
	if c := b.fetchCalendar(t, first); c.parts[0].name != "VTIMEZONE" {
		t.Errorf("an empty farm's calendar holds %s", c.parts[0].name)
	}
	b.kings("12", `,"strain":"é; black, \\ \"pearl\" of a long name 日本語日本語日本語日本語"`)
	c := b.fetchCalendar(t, first)
	var kinds, uids []string
	for _, e := range c.parts {
		if e.name != "VEVENT" {
			t.Fatalf("a %s among the events", e.name)
		}
		from, to := dateOf(t, e, "DTSTART"), dateOf(t, e, "DTEND")
		if !from.Before(to) {
			t.Errorf("it ends on %s and begins on %s", to, from)
		}
		if stamp, err := time.Parse("20060102T150405Z", e.value(t, "DTSTAMP")); err != nil || !stamp.Equal(noon) {
			t.Errorf("DTSTAMP %v, %v", stamp, err)
		}
		if details := unescape.Replace(e.value(t, "DESCRIPTION")); !strings.Contains(details, `é; black, \ "pearl" of a long name 日本語日本語日本語日本語`) {
			t.Errorf("the strain came as %q", details)
		}
		if url := e.value(t, "URL"); url != b.web.URL+"/batches/KING-261122" {
			t.Errorf("it leads to %s", url)
		}
		kinds, uids = append(kinds, strings.SplitN(e.value(t, "SUMMARY"), ":", 2)[0]), append(uids, e.value(t, "UID"))
	}
	if diff := cmp.Diff([]string{"Hunt", "Ready", "Late"}, kinds); diff != "" {
		t.Errorf("events (-want +got):\n%s", diff)
	}
	if from := dateOf(t, c.parts[0], "DTSTART"); from.Format("2006-01-02") != "2026-11-29" {
		t.Errorf("first look on %s, want day 7", from)
	}
	b.days(1)
	var again []string
	for _, e := range b.fetchCalendar(t, first).parts {
		again = append(again, e.value(t, "UID"))
	}
	if !slices.Equal(uids, again) || len(slices.Compact(slices.Sorted(slices.Values(uids)))) != len(uids) {
		t.Errorf("UIDs were %v and are %v", uids, again)
	}
	second := address()
	b.fetchCalendar(t, second)
	for _, path := range []string{first, "/calendar/00000000000000000000000000.ics"} {
		if got := b.open(path); got.status != http.StatusNotFound {
			t.Errorf("%s: status %d", path, got.status)
		}
	}
	b.fill(b.open("/calendar").ok().says("main", "You made an address"), `form[action="/calendar/end"]`).led()
	if got := b.open(second); got.status != http.StatusNotFound {
		t.Errorf("an ended address: status %d", got.status)
	}
	if strings.Contains(b.log.String(), strings.TrimSuffix(strings.TrimPrefix(first, "/calendar/"), ".ics")) {
		t.Error("the address stands in the log")
	}
	r := b.as(store.Grower, b.request("POST", "/calendar", ""))
	if got := b.send(r); got.status != http.StatusForbidden {
		t.Errorf("a program made an address: status %d", got.status)
	}
}

func dateOf(t *testing.T, e *component, name string) time.Time {
	t.Helper()
	at, err := time.Parse("20060102", e.value(t, name))
	if err != nil || e.parameters[name] != ";VALUE=DATE" {
		t.Fatalf("%s%s: %v", name, e.parameters[name], err)
	}
	return at
}

// FuzzICal: whatever a name holds, the calendar is one that the reader
// understands, and the name comes back.
func FuzzICal(f *testing.F) {
	for _, s := range []string{"", "a,b;c\\d\ne", strings.Repeat("é", 80), "\r\nBEGIN:VEVENT", "\x00\x7f", strings.Repeat("x", 75)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		s = strings.ToValidUTF8(s, "")
		c, err := readCalendar(ical(s, noon, []icalEvent{{UID: "u", Summary: s, Details: s, URL: "http://farm.example/", From: 1, To: grow.Date(2)}}))
		if err != nil {
			t.Fatal(err)
		}
		want := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
		want = strings.Map(func(r rune) rune {
			if r < ' ' && r != '\t' && r != '\n' || r == 0x7f {
				return -1
			}
			return r
		}, want)
		if got := unescape.Replace(c.parts[0].value(t, "SUMMARY")); got != want {
			t.Errorf("%q came back as %q", want, got)
		}
	})
}
