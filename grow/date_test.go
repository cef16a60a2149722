package grow_test

import (
	"encoding/json"
	"testing"
	"time"
	_ "time/tzdata"

	"bagmark/grow"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func moment(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func date(t testing.TB, text string) grow.Date {
	t.Helper()
	d, err := grow.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestDateOf: what day it was where, by the IANA time zone database.
func TestDateOf(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, zone, at, want string }{
		{"an hour before midnight", "Europe/Lisbon", "2026-03-14T23:00:00Z", "2026-03-14"},
		{"summer time is on", "Europe/Lisbon", "2026-07-14T23:00:00Z", "2026-07-15"},
		{"evening in New York", "America/New_York", "2026-03-15T03:59:59Z", "2026-03-14"},
		{"half an hour of summer time", "Australia/Lord_Howe", "2026-01-01T12:59:59Z", "2026-01-01"},
		{"half an hour of summer time, midnight", "Australia/Lord_Howe", "2026-01-01T13:00:00Z", "2026-01-02"},
		{"before the skipped day", "Pacific/Apia", "2011-12-30T09:59:59Z", "2011-12-29"},
		{"after the skipped day", "Pacific/Apia", "2011-12-30T10:00:00Z", "2011-12-31"},
		{"before 1970", "UTC", "1969-12-31T23:59:59Z", "1969-12-31"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if got := grow.DateOf(moment(t, test.at), zone(t, test.zone)).String(); got != test.want {
				t.Errorf("DateOf(%s) in %s = %s, want %s", test.at, test.zone, got, test.want)
			}
		})
	}
}

var oddZones = []string{"UTC", "Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "Pacific/Apia", "America/Sao_Paulo", "Asia/Kathmandu", "Pacific/Kiritimati", "America/Havana"}

// TestDayNeverSlips walks through years with changes of clocks, hour by hour:
// the day number goes up by one at each midnight and never otherwise, but for
// Samoa, whose calendar left out 30 December 2011.
func TestDayNeverSlips(t *testing.T) {
	t.Parallel()
	for _, name := range oddZones {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			z := zone(t, name)
			made := time.Date(2011, 3, 1, 15, 0, 0, 0, z)
			was, day := 0, made.Day()
			for at := made; at.Year() < 2013; at = at.Add(30 * time.Minute) {
				got, local := grow.Day(made, at, z), at.In(z)
				step := 0
				if local.Day() != day {
					step, day = 1, local.Day()
				}
				if name == "Pacific/Apia" && step == 1 && local.Format("2006-01-02") == "2011-12-31" {
					step = 2
				}
				if got != was+step {
					t.Fatalf("at %s the day is %d after %d", local, got, was)
				}
				was = got
			}
		})
	}
}

// TestDateIn: the start of a date splits instants into those of the days
// before and those of that day or later, also where midnight does not exist
// (São Paulo, 4 November 2018) or the whole day does not (Samoa).
func TestDateIn(t *testing.T) {
	t.Parallel()
	days := []string{"2011-12-29", "2011-12-30", "2011-12-31", "2018-02-18", "2018-11-04", "2026-03-08", "2026-03-29", "2026-10-04", "2026-10-25", "2026-11-01"}
	for _, name := range oddZones {
		for _, day := range days {
			z, d := zone(t, name), date(t, day)
			start := d.In(z, 0)
			if got := grow.DateOf(start, z); got < d {
				t.Errorf("%s: %s begins at %s, which is still %s", name, day, start, got)
			}
			if got := grow.DateOf(start.Add(-time.Microsecond), z); got >= d {
				t.Errorf("%s: just before the start of %s, at %s, it is %s already", name, day, start, got)
			}
		}
	}
}

func TestDateInHour(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, zone, date string
		hour             int
		want             string
	}{
		{"noon", "Europe/Lisbon", "2026-07-01", 12, "2026-07-01T12:00:00+01:00"},
		{"an hour that is skipped", "America/New_York", "2026-03-08", 2, "2026-03-08T03:00:00-04:00"},
		{"midnight that is skipped", "America/Sao_Paulo", "2018-11-04", 0, "2018-11-04T01:00:00-02:00"},
		{"a day that is skipped", "Pacific/Apia", "2011-12-30", 12, "2011-12-31T00:00:00+14:00"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if got := date(t, test.date).In(zone(t, test.zone), test.hour).Format(time.RFC3339); got != test.want {
				t.Errorf("%s at %d in %s is %s, want %s", test.date, test.hour, test.zone, got, test.want)
			}
		})
	}
}

func TestDateText(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"2026-03-14", "2024-02-29", "1969-07-20", "0001-01-01", "9999-12-31"} {
		d := date(t, text)
		j, err := json.Marshal(d)
		if d.String() != text || err != nil || string(j) != `"`+text+`"` {
			t.Errorf("%s comes back as %s, in JSON %s (%v)", text, d, j, err)
		}
		var back grow.Date
		if err := json.Unmarshal(j, &back); err != nil || back != d {
			t.Errorf("%s read from JSON is %s, %v", j, back, err)
		}
	}
	for _, text := range []string{"", "2026-3-14", "2026-02-29", "14.03.2026", "2026-03-14T00:00:00Z", " 2026-03-14", "+2026-03-14"} {
		if d, err := grow.ParseDate(text); err == nil || grow.KindOf(err) != grow.Invalid {
			t.Errorf("ParseDate(%q) = %s, %v; want it refused", text, d, err)
		}
	}
	var d grow.Date
	for _, j := range []string{`20260314`, `{}`, `"soon"`, `null`} {
		if err := json.Unmarshal([]byte(j), &d); err == nil {
			t.Errorf("%s is taken for the date %s", j, d)
		}
	}
}
