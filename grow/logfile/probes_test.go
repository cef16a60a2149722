package logfile_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bagmark/grow/climate"
	"bagmark/grow/logfile"

	"github.com/google/go-cmp/cmp"
)

// start is when the runs of these tests began.
var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func readLog(data []byte, how logfile.Format) (logfile.Log, error) {
	s, err := logfile.Read(data)
	if err != nil {
		return logfile.Log{}, err
	}
	return s.Probes(how)
}

// logged writes what was read of a file in a few words.
func logged(l logfile.Log) []string {
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

// TestProbes reads files as loggers and people write them. All are invented;
// 250 °F are 121.11 °C by definition.
func TestProbes(t *testing.T) {
	t.Parallel()
	lisbon := lisbon(t)
	for _, c := range []struct {
		name, file string
		how        logfile.Format
		want       []string
	}{
		{"plain", "time,core\n2026-03-14 08:00,20.5\n2026-03-14 08:15:30,60\n", logfile.Format{},
			[]string{"core (0 missing): 14T08:00:00 20.50 14T08:15:30 60.00"}},
		{"semicolons, decimal commas, lines about the device, gaps", "Device;X-1\nSerial;0042\n\nDatum;Zeit;Kern °C;Kammer °C;Feuchte %\n14.03.2026;08:00:00;20,5;25,0;40\n14.03.2026;08:01:00;;26,5;40\n14.03.2026;08:02:00;---;28,0;41\nend of log\n", logfile.Format{},
			[]string{"Kern °C (2 missing): 14T08:00:00 20.50", "Kammer °C (0 missing): 14T08:00:00 25.00 14T08:01:00 26.50 14T08:02:00 28.00"}},
		{"degrees Fahrenheit by the head", "Index,Date/Time,Temp (°F)\n1,03/14/2026 08:00:00 AM,250\n2,03/14/2026 01:30:00 PM,212\n", logfile.Format{},
			[]string{"Temp (°F) (0 missing): 14T08:00:00 121.11 14T13:30:00 100.00"}},
		{"degrees Fahrenheit by the cell", "2026/03/14 08:00\t250 °F\t100.0 C\n", logfile.Format{},
			[]string{" (0 missing): 14T08:00:00 121.11", " (0 missing): 14T08:00:00 100.00"}},
		{"degrees Fahrenheit because somebody said so", "t;core\n2026-03-14T08:00;250\n", logfile.Format{Fahrenheit: true},
			[]string{"core (0 missing): 14T08:00:00 121.11"}},
		{"a letter behind a line is no unit inside a head", "t;T_core;core_front;T_f\n2026-03-14T08:00;250;250;250\n", logfile.Format{Fahrenheit: true},
			[]string{"T_core (0 missing): 14T08:00:00 121.11", "core_front (0 missing): 14T08:00:00 121.11", "T_f (0 missing): 14T08:00:00 121.11"}},
		{"nor one that turns °C into °F", "t;core_front;T_c\n2026-03-14T08:00;121;121\n", logfile.Format{},
			[]string{"core_front (0 missing): 14T08:00:00 121.00", "T_c (0 missing): 14T08:00:00 121.00"}},
		{"minutes since the start", "min,core\n0,20\n7.5,60\n", logfile.Format{Start: start},
			[]string{"core (0 missing): 2T08:00:00 20.00 2T08:07:30 60.00"}},
		{"hours over midnight", "hour;core\n23:30;110\n23:59;121\n00:10;121\n", logfile.Format{Start: start},
			[]string{"core (0 missing): 2T23:30:00 110.00 2T23:59:00 121.00 3T00:10:00 121.00"}},
		{"the day decided by a later row", "t;core\n03.04.2026 08:00;20\n30.04.2026 08:00;21\n", logfile.Format{},
			[]string{"core (0 missing): 3T08:00:00 20.00 30T08:00:00 21.00"}},
		{"an offset, and the farm's zone in summer", "t,core\n2026-07-14T08:00:00+02:00,20\n2026-07-14T08:00:00,21\n", logfile.Format{Zone: lisbon},
			[]string{"core (0 missing): 14T06:00:00 20.00 14T07:00:00 21.00"}},
		{"old line ends and a mark at the start", "\xef\xbb\xbft;core\r2026-03-14 08:00;20\r2026-03-14 08:01;21\r", logfile.Format{},
			[]string{"core (0 missing): 14T08:00:00 20.00 14T08:01:00 21.00"}},
		{"UTF-16 with its mark, and without", wide("t;core\n2026-03-14 08:00;20,5\n"), logfile.Format{},
			[]string{"core (0 missing): 14T08:00:00 20.50"}},
		{"UTF-16 the other way round", "\xfe\xff" + swapped(wide("t;core\n2026-03-14 08:00;20,5\n")[2:]), logfile.Format{},
			[]string{"core (0 missing): 14T08:00:00 20.50"}},
		{"Latin-1", "Zeit;Kern \xb0F\n14.03.2026 08:00;212\n", logfile.Format{},
			[]string{"Kern °F (0 missing): 14T08:00:00 100.00"}},
		{"the night when clocks go back", "t;core\n25.10.2026 00:40;20\n25.10.2026 01:20;21\n25.10.2026 01:00;22\n25.10.2026 02:00;23\n", logfile.Format{Zone: lisbon},
			[]string{"core (0 missing): 24T23:40:00 20.00 25T00:20:00 21.00 25T01:00:00 22.00 25T02:00:00 23.00"}},
		{"the same minute twice on that night is no hour later", "t;core\n25.10.2026 01:20;20\n25.10.2026 01:20;21\n25.10.2026 01:21;22\n", logfile.Format{Zone: lisbon},
			[]string{"core (0 missing): 25T00:20:00 20.00 25T00:20:00 21.00 25T00:21:00 22.00"}},
		{"hours alone on that night", "hour;core\n23:30;20\n00:30;21\n01:30;22\n01:30;23\n02:30;24\n", logfile.Format{Zone: lisbon, Start: time.Date(2026, 10, 24, 20, 0, 0, 0, time.UTC)},
			[]string{"core (0 missing): 24T22:30:00 20.00 24T23:30:00 21.00 25T00:30:00 22.00 25T01:30:00 23.00 25T02:30:00 24.00"}},
		{"a logger in winter time over the night when clocks go forward", "t;core\n29.03.2026 00:30;20\n29.03.2026 01:30;21\n29.03.2026 02:30;22\n", logfile.Format{Zone: lisbon},
			[]string{"core (0 missing): 29T00:30:00 20.00 29T01:30:00 21.00 29T02:30:00 22.00"}},
		{"the same by hours alone", "hour;core\n23:30;20\n00:30;21\n01:30;22\n02:30;23\n", logfile.Format{Zone: lisbon, Start: time.Date(2026, 3, 28, 23, 0, 0, 0, time.UTC)},
			[]string{"core (0 missing): 28T23:30:00 20.00 29T00:30:00 21.00 29T01:30:00 22.00 29T02:30:00 23.00"}},
		{"begun just before midnight, the logger after", "hour;core\n00:10;20\n", logfile.Format{Start: time.Date(2026, 3, 2, 23, 30, 0, 0, time.UTC)},
			[]string{"core (0 missing): 3T00:10:00 20.00"}},
		{"elapsed hours, more than a day of them", "Elapsed;core\n00:00:00;20\n25:30:00;121\n", logfile.Format{Start: start},
			[]string{"core (0 missing): 2T08:00:00 20.00 3T09:30:00 121.00"}},
		{"seconds since 1970", "ts,core,core\n1773475200,20,30\n1773475260500,21,31\n", logfile.Format{},
			[]string{"core (0 missing): 14T08:00:00 20.00 14T08:01:00 21.00", "core (0 missing): 14T08:00:00 30.00 14T08:01:00 31.00"}},
		{"a time in the lines about the device", "Started;2026-03-14 08:00;Interval;60\nInterval;00:01:00;s;60\nZeit;Kern;Kammer\n14.03.2026 08:00;20;25\n14.03.2026 08:01;21;26\n", logfile.Format{},
			[]string{"Kern (0 missing): 14T08:00:00 20.00 14T08:01:00 21.00", "Kammer (0 missing): 14T08:00:00 25.00 14T08:01:00 26.00"}},
		{"first readings missing", "t;core\n14.03.2026 08:00;---\n14.03.2026 08:01;21\n", logfile.Format{},
			[]string{"core (1 missing): 14T08:01:00 21.00"}},
		{"quotes, a weekday, the hour before the date", "\"Hour\",\"Date\",\"core, \"\"deep\"\"\"\n\"08:00\",\"Sat 14.03.2026\",\"20,5\"\n", logfile.Format{},
			[]string{"core, \"deep\" (0 missing): 14T08:00:00 20.50"}},
	} {
		l, err := readLog([]byte(c.file), c.how)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if diff := cmp.Diff(c.want, logged(l)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// wide is a text as UTF-16, the low byte first, with its mark.
func wide(text string) string {
	out := "\xff\xfe"
	for _, r := range text {
		out += string([]byte{byte(r), byte(r >> 8)})
	}
	return out
}

// swapped has every two bytes the other way round.
func swapped(text string) string {
	out := []byte(text)
	for i := 0; i+1 < len(out); i += 2 {
		out[i], out[i+1] = out[i+1], out[i]
	}
	return string(out)
}

func TestProbesSayWhatItAssumed(t *testing.T) {
	t.Parallel()
	l, err := readLog([]byte("t;core\n03.04.2026 08:00;20\nbroken\n04.04.2026 08:00;21\n"), logfile.Format{})
	if err != nil || l.Assumed == "" || len(l.Skipped) != 1 || l.Skipped[0] != 3 {
		t.Errorf("assumed %q, skipped %v, %v", l.Assumed, l.Skipped, err)
	}
	for file, want := range map[string]string{
		"t;core\n3/4/2026 8:00 PM;20\n":       "the month was taken",
		"t;core\n29.03.2026 01:30;20\n":       "winter time",
		"t;core\n1773475200;20\n":             "",
		"t;core\n2026-04-03T08:00:00Z;20\n":   "",
		"min;core\n0;20\n":                    "",
		"t;core\n03/04/2026 08:00 +0100;20\n": "the day was taken",
		"t;core\n03/04/2026 08:00;20;30;40\n": "the day was taken",
	} {
		l, err := readLog([]byte(file), logfile.Format{Zone: lisbon(t)})
		if err != nil || !strings.Contains(l.Assumed, want) || want == "" && l.Assumed != "" {
			t.Errorf("%q: assumed %q, %v; want %q", file, l.Assumed, err, want)
		}
	}
	for _, file := range []string{"", "a,b\nc,d\n", "time,core\n2026-03-14 08:00,\n", "2026-03-14 08:00;---\n", "%PDF-1.4"} {
		if l, err := readLog([]byte(file), logfile.Format{}); err == nil {
			t.Errorf("%q was taken for a log: %v", file, logged(l))
		}
	}
}

// BenchmarkProbes reads a logger's file of 20,000 rows with two probes and works
// out the lethality of the first.
func BenchmarkProbes(b *testing.B) {
	var file strings.Builder
	file.WriteString("Date;Time;Core °C;Chamber °C\n")
	for i := range 20000 {
		at := start.Add(time.Duration(i) * time.Second)
		fmt.Fprintf(&file, "%s;%s;%d,%d;121,3\n", at.Format("02.01.2006"), at.Format("15:04:05"), 90+i/1000, i%10)
	}
	data := []byte(file.String())
	for b.Loop() {
		l, err := readLog(data, logfile.Format{})
		if err != nil || len(l.Probes) != 2 || len(l.Probes[0].Points) != 20000 {
			b.Fatal(err)
		}
		points := make([]climate.Point, 0, len(l.Probes[0].Points))
		for _, p := range l.Probes[0].Points {
			points = append(points, climate.Point(p))
		}
		if _, err := climate.Soak(points, 121, climate.LongestStep(points)); err != nil {
			b.Fatal(err)
		}
	}
}

// TestProbesNewestFirst: a file with its newest row first, that tells only hours,
// is one morning and not a month of them.
func TestProbesNewestFirst(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		"time,core\n00:10,120\n00:00,119\n23:50,118\n23:40,117\n",
		"time,core\n2026-03-15 00:10,120\n2026-03-15 00:00,119\n2026-03-14 23:50,118\n2026-03-14 23:40,117\n",
	} {
		s, err := logfile.Read([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		l, err := s.Probes(logfile.Format{Zone: time.UTC, Start: time.Date(2026, 3, 14, 22, 0, 0, 0, time.UTC)})
		if err != nil {
			t.Fatal(err)
		}
		points := l.Probes[0].Points
		if len(points) != 4 || points[3].At.Sub(points[0].At) != 30*time.Minute || points[0].C != 117 || points[3].At.Day() != 15 {
			t.Errorf("%q: %v", text, points)
		}
	}
}

// TestProbeTornOff: what loggers write for a probe that is not there is missing.
func TestProbeTornOff(t *testing.T) {
	t.Parallel()
	s, err := logfile.Read([]byte("min,core\n0,120\n1,-999.9\n2,850\n3,1e308\n4,121\n"))
	if err != nil {
		t.Fatal(err)
	}
	l, err := s.Probes(logfile.Format{})
	if err != nil || len(l.Probes) != 1 || len(l.Probes[0].Points) != 2 || l.Probes[0].Missing != 3 {
		t.Errorf("%+v, %v", l, err)
	}
}

// TestTimeBeyondReason: minutes since the start that no run lasts are no time; ten
// million of them would be nineteen years, a thousand million run over what a
// duration holds (2⁶³ nanoseconds, 292 years).
func TestTimeBeyondReason(t *testing.T) {
	t.Parallel()
	for _, x := range []string{"10000000", "1000000000", "-1000000000"} {
		got, err := readLog([]byte("minutes;core\n0;20\n10;60\n"+x+";118\n30;119\n"), logfile.Format{Start: start})
		if err != nil {
			t.Fatal(err)
		}
		want := []string{"core (0 missing): 2T08:00:00 20.00 2T08:10:00 60.00 2T08:30:00 119.00"}
		if diff := cmp.Diff(want, logged(got)); diff != "" || len(got.Skipped) != 1 {
			t.Errorf("%s minutes (-want +got):\n%s", x, diff)
		}
	}
}
