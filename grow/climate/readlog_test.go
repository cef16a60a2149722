package climate_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bagmark/grow/climate"

	"github.com/google/go-cmp/cmp"
)

// logged writes what was read of a file in a few words.
func logged(l climate.Log) []string {
	var out []string
	for _, p := range l.Probes {
		line := fmt.Sprintf("%s (%d missing):", p.Name, p.Missing)
		for _, x := range p.Points {
			line += fmt.Sprintf(" %s %.2f", x.At.UTC().Format("2T15:04:05"), x.C)
		}
		out = append(out, line)
	}
	return out
}

// TestReadLog reads files as loggers and people write them. All are invented;
// 250 °F are 121.11 °C by definition.
func TestReadLog(t *testing.T) {
	t.Parallel()
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, file string
		how        climate.LogFormat
		want       []string
	}{
		{"plain", "time,core\n2026-03-14 08:00,20.5\n2026-03-14 08:15:30,60\n", climate.LogFormat{},
			[]string{"core (0 missing): 14T08:00:00 20.50 14T08:15:30 60.00"}},
		{"semicolons, decimal commas, lines about the device, gaps", "Device;X-1\nSerial;0042\n\nDatum;Zeit;Kern °C;Kammer °C;Feuchte %\n14.03.2026;08:00:00;20,5;25,0;40\n14.03.2026;08:01:00;;26,5;40\n14.03.2026;08:02:00;---;28,0;41\nend of log\n", climate.LogFormat{},
			[]string{"Kern °C (2 missing): 14T08:00:00 20.50", "Kammer °C (0 missing): 14T08:00:00 25.00 14T08:01:00 26.50 14T08:02:00 28.00"}},
		{"degrees Fahrenheit by the head", "Index,Date/Time,Temp (°F)\n1,03/14/2026 08:00:00 AM,250\n2,03/14/2026 01:30:00 PM,212\n", climate.LogFormat{},
			[]string{"Temp (°F) (0 missing): 14T08:00:00 121.11 14T13:30:00 100.00"}},
		{"degrees Fahrenheit by the cell", "2026/03/14 08:00\t250 °F\t100.0 C\n", climate.LogFormat{},
			[]string{" (0 missing): 14T08:00:00 121.11", " (0 missing): 14T08:00:00 100.00"}},
		{"degrees Fahrenheit because somebody said so", "t;core\n2026-03-14T08:00;250\n", climate.LogFormat{Fahrenheit: true},
			[]string{"core (0 missing): 14T08:00:00 121.11"}},
		{"minutes since the start", "min,core\n0,20\n7.5,60\n", climate.LogFormat{Start: start},
			[]string{"core (0 missing): 2T08:00:00 20.00 2T08:07:30 60.00"}},
		{"hours over midnight", "hour;core\n23:30;110\n23:59;121\n00:10;121\n", climate.LogFormat{Start: start},
			[]string{"core (0 missing): 2T23:30:00 110.00 2T23:59:00 121.00 3T00:10:00 121.00"}},
		{"the day decided by a later row", "t;core\n03.04.2026 08:00;20\n30.04.2026 08:00;21\n", climate.LogFormat{},
			[]string{"core (0 missing): 3T08:00:00 20.00 30T08:00:00 21.00"}},
		{"an offset, and the farm's zone in summer", "t,core\n2026-07-14T08:00:00+02:00,20\n2026-07-14T08:00:00,21\n", climate.LogFormat{Zone: lisbon},
			[]string{"core (0 missing): 14T06:00:00 20.00 14T07:00:00 21.00"}},
		{"old line ends and a mark at the start", "\xef\xbb\xbft;core\r2026-03-14 08:00;20\r2026-03-14 08:01;21\r", climate.LogFormat{},
			[]string{"core (0 missing): 14T08:00:00 20.00 14T08:01:00 21.00"}},
	} {
		l, err := climate.ReadLog([]byte(c.file), c.how)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if diff := cmp.Diff(c.want, logged(l)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

func TestReadLogSaysWhatItAssumed(t *testing.T) {
	t.Parallel()
	l, err := climate.ReadLog([]byte("t;core\n03.04.2026 08:00;20\nbroken\n04.04.2026 08:00;21\n"), climate.LogFormat{})
	if err != nil || l.Assumed == "" || len(l.Skipped) != 1 || l.Skipped[0] != 3 {
		t.Errorf("assumed %q, skipped %v, %v", l.Assumed, l.Skipped, err)
	}
	for _, file := range []string{"", "a,b\nc,d\n", "time,core\n2026-03-14 08:00,\n", "2026-03-14 08:00;---\n", "%PDF-1.4"} {
		if l, err := climate.ReadLog([]byte(file), climate.LogFormat{}); err == nil {
			t.Errorf("%q was taken for a log: %v", file, logged(l))
		}
	}
}

func FuzzReadLog(f *testing.F) {
	f.Add("t;core\n03.04.2026 08:00;20,5\n")
	f.Add("min,a,b\n0,20,30\n1,,31 °F\n")
	f.Add("Date,Time,T\n03/14/2026,8:00 PM,250\n")
	f.Fuzz(func(t *testing.T, file string) {
		l, err := climate.ReadLog([]byte(file), climate.LogFormat{Start: start})
		if err == nil && len(l.Probes) == 0 {
			t.Error("no error and nothing read")
		}
		for _, p := range l.Probes {
			if len(p.Points)+p.Missing > strings.Count(file, "\n")+strings.Count(file, "\r")+1 {
				t.Error("more readings than rows")
			}
		}
	})
}

// BenchmarkReadLog reads a logger's file of 20,000 rows with two probes and works
// out its lethality; per-row is beside reading a number alone.
func BenchmarkReadLog(b *testing.B) {
	var file strings.Builder
	file.WriteString("Date;Time;Core °C;Chamber °C\n")
	for i := range 20000 {
		at := start.Add(time.Duration(i) * time.Second)
		fmt.Fprintf(&file, "%s;%s;%d,%d;121,3\n", at.Format("02.01.2006"), at.Format("15:04:05"), 90+i/1000, i%10)
	}
	data := []byte(file.String())
	for b.Loop() {
		l, err := climate.ReadLog(data, climate.LogFormat{})
		if err != nil || len(l.Probes) != 2 || len(l.Probes[0].Points) != 20000 {
			b.Fatal(err)
		}
		if _, err := climate.Soak(l.Probes[0].Points, 121, climate.LongestStep(l.Probes[0].Points)); err != nil {
			b.Fatal(err)
		}
	}
}
