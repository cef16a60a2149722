package forecast

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var november = time.Date(2026, time.November, 22, 15, 0, 0, 0, time.UTC)

func TestForecastWords(t *testing.T) {
	t.Parallel()
	d := Days{12.2, 16.4, 21.7}
	tests := []struct {
		name string
		f    Forecast
		want string
	}{
		{"own batches", Forecast{Colonised: d, Basis: Basis{OwnBatches, 3}}, "Colonised about 9 December, likely 5 to 14 December (from 3 of your batches)."},
		{"one batch", Forecast{Colonised: d, Basis: Basis{OwnBatches, 1}}, "Colonised about 9 December, likely 5 to 14 December (from 1 of your batches)."},
		{"published", Forecast{Colonised: d, Basis: Basis{Source: Published}}, "Colonised about 9 December, likely 5 to 14 December (from published figures; your own batches will sharpen this)."},
		{"the farm's days", Forecast{Colonised: d, Basis: Basis{Source: OwnRange}}, "Colonised about 9 December, likely 5 to 14 December (from the days you set; your own batches will sharpen this)."},
		{"over a month's end", Forecast{Colonised: Days{6, 9, 12}, Basis: Basis{OwnBatches, 3}}, "Colonised about 1 December, likely 28 November to 4 December (from 3 of your batches)."},
		{"over the year's end", Forecast{Colonised: Days{36, 40, 45}, Basis: Basis{OwnBatches, 3}}, "Colonised about 1 January, likely 28 December 2026 to 6 January 2027 (from 3 of your batches)."},
		{"all on one day", Forecast{Colonised: Days{16.1, 16.4, 16.9}, Basis: Basis{OwnBatches, 3}}, "Colonised about 9 December, likely on that day (from 3 of your batches)."},
		{"slow and overdue", Forecast{Colonised: d, Basis: Basis{OwnBatches, 3}, Slow: true, Overdue: true},
			"Overdue: 95 of 100 such bags are done by now. If it goes on growing, colonised any day now, likely by 14 December (from 3 of your batches). Slow: less of the wall is grown over than a late bag would show on that day."},
		{"seen", Forecast{Colonised: Days{18, 18, 18}, Known: true}, "Seen grown over on 10 December."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(tt.want, strings.Join(tt.f.Words(november, 20), " ")); diff != "" {
				t.Error(diff)
			}
		})
	}
	late := Forecast{Colonised: d, Basis: Basis{OwnBatches, 3}, Overdue: true}
	if got, want := late.Words(november, 22)[1], "If it went on growing, its wall is done by now: look (from 3 of your batches)."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := ReadyWords(Days{15, 22.5, 34}, november), "Ready about 15 December, likely 7 to 26 December."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestBasisString(t *testing.T) {
	t.Parallel()
	for b, want := range map[Basis]string{
		{Source: Published}: "published range", {OwnBatches, 1}: "1 of your batches", {OwnBatches, 12}: "12 of your batches", {Source: OwnRange}: "your own figures",
	} {
		if got := b.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// Days are rounded up; a change of clocks does not shift a date.
func TestDate(t *testing.T) {
	t.Parallel()
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	tests := []struct {
		name string
		from time.Time
		days float64
		want string
	}{
		{"whole", november, 16, "2026-12-08"},
		{"part of a day", november, 16.01, "2026-12-09"},
		{"whole but for rounding", november, 16.0000000001, "2026-12-08"},
		{"none", november, 0, "2026-11-22"},
		{"before it", november, -3, "2026-11-22"},
		{"clocks go forward", time.Date(2026, time.March, 28, 23, 30, 0, 0, london), 1, "2026-03-29"},
		{"clocks go back", time.Date(2026, time.October, 24, 23, 30, 0, 0, london), 2, "2026-10-26"},
		{"beyond any calendar", november, 1e300, "2126-11-23"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if got := Date(tt.from, tt.days).Format(time.DateOnly); got != tt.want {
				t.Errorf("got %s, want %s", got, tt.want)
			}
		})
	}
}
