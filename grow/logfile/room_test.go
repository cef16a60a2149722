package logfile_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/logfile"
)

func lisbon(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

var loggerNow = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func readLogger(t *testing.T, text string, change ...func(*logfile.RoomMap)) ([]grow.AirReading, []logfile.Problem, logfile.RoomMap) {
	t.Helper()
	s, err := logfile.ReadDated([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	m := s.GuessRoom()
	for _, c := range change {
		c(&m)
	}
	list, problems, err := s.Room(m, lisbon(t), 0, loggerNow)
	if err != nil {
		t.Fatal(err)
	}
	return list, problems, m
}

// TestLoggerFiles: files as loggers write them, invented.
func TestLoggerFiles(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		first      string // UTC
		temp       float64
		rh, co2    float64 // 0 for none
		rows       int
	}{
		{"commas", "time,temp_c,rh_pct,co2_ppm\n2026-11-01 10:00:00,21.5,93,1800\n2026-11-01 10:05:00,21.6,92,1790\n", "2026-11-01T10:00:00Z", 21.5, 93, 1800, 2},
		{"semicolons, decimal commas, lines before the heading", "Device;Invented 7\nSerial;12345\n\nNo;Date/Time;Temperature (°C);Humidity (%RH)\n1;14.03.2026 10:00;21,5;93,2\n2;14.03.2026 10:05;21,6;93,0\n", "2026-03-14T10:00:00Z", 21.5, 93.2, 0, 2},
		{"Fahrenheit, month first, AM and PM", "Timestamp,Temp (°F),RH (%)\n03/14/2026 1:05 PM,70.7,90\n03/14/2026 1:10 PM,71.6,90\n", "2026-03-14T13:05:00Z", 21.5, 90, 0, 2},
		{"date and time in two columns, tabs", "Date\tTime\tTemp C\n2026-03-14\t10:00:00\t21.5\n", "2026-03-14T10:00:00Z", 21.5, 0, 0, 1},
		{"an offset", "at,temp\n2026-03-14T10:00:00+02:00,21.5\n", "2026-03-14T08:00:00Z", 21.5, 0, 0, 1},
		{"an offset in the heading", "\"Date Time, GMT-05:00\",\"Temp, °C\"\n2026-07-14 10:00:00,21.5\n", "2026-07-14T15:00:00Z", 21.5, 0, 0, 1},
		{"an offset of one digit", "Time (UTC+2);Temp °C\n14.07.2026 10:00;21,5\n", "2026-07-14T08:00:00Z", 21.5, 0, 0, 1},
		{"UTC in the heading", "Time UTC;Temp °C\n14.07.2026 10:00;21,5\n", "2026-07-14T10:00:00Z", 21.5, 0, 0, 1},
		{"seconds since 1970", "ts,temperature\n1773482400,21.5\n", "2026-03-14T10:00:00Z", 21.5, 0, 0, 1},
		{"Latin-1", "Datum;Temp \xb0C\n14.3.2026 10:00;21,5\n", "2026-03-14T10:00:00Z", 21.5, 0, 0, 1},
		{"UTF-16", "\xff\xfet\x00;\x00T\x00e\x00m\x00p\x00\n\x001\x004\x00.\x003\x00.\x002\x000\x002\x006\x00 \x001\x000\x00:\x000\x000\x00;\x002\x001\x00,\x005\x00\n\x00", "2026-03-14T10:00:00Z", 21.5, 0, 0, 1},
		{"no heading column for values it lacks", "time;temp °C;\n14.03.2026 10:00;21,5;\n14.03.2026 10:05;---;\n", "2026-03-14T10:00:00Z", 21.5, 0, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			list, problems, m := readLogger(t, c.text)
			if len(problems) > 0 || len(list) != c.rows {
				t.Fatalf("%d readings, problems %v, mapping %+v", len(list), problems, m)
			}
			r := list[0]
			if got := r.At.UTC().Format(time.RFC3339); got != c.first {
				t.Errorf("first at %s, want %s", got, c.first)
			}
			if math.Abs(*r.TempC-c.temp) > 1e-9 {
				t.Errorf("temperature %v", *r.TempC)
			}
			if c.rh > 0 && *r.RHPct != c.rh || c.co2 > 0 && *r.CO2ppm != c.co2 {
				t.Errorf("humidity and carbon dioxide: %+v", r)
			}
		})
	}
}

// TestLoggerOnTheNightClocksGoBack: Lisbon, 25 October 2026, 01:59:59 at +01:00 is
// followed by 01:00:00 at +00:00. No reading is taken for one of the other hour.
func TestLoggerOnTheNightClocksGoBack(t *testing.T) {
	t.Parallel()
	list, problems, _ := readLogger(t, "time;temp\n25.10.2026 00:40;20\n25.10.2026 01:00;21\n25.10.2026 01:30;22\n25.10.2026 01:00;23\n25.10.2026 01:30;24\n25.10.2026 02:00;25\n")
	if len(problems) > 0 || len(list) != 6 {
		t.Fatalf("%d readings, %v", len(list), problems)
	}
	for i, want := range []string{"2026-10-24T23:40:00Z", "2026-10-25T00:00:00Z", "2026-10-25T00:30:00Z", "2026-10-25T01:00:00Z", "2026-10-25T01:30:00Z", "2026-10-25T02:00:00Z"} {
		if got := list[i].At.UTC().Format(time.RFC3339); got != want {
			t.Errorf("row %d at %s, want %s", i, got, want)
		}
	}
}

// TestLoggerOnTheNightClocksGoForward: Lisbon, 29 March 2026, 01:00 to 02:00 does
// not exist; a logger that keeps winter time shows it all the same.
func TestLoggerOnTheNightClocksGoForward(t *testing.T) {
	t.Parallel()
	const text = "time;temp\n29.03.2026 00:30;20\n29.03.2026 01:30;21\n29.03.2026 02:30;22\n"
	list, problems, _ := readLogger(t, text)
	if len(list) != 2 || len(problems) != 1 || problems[0].Line != 3 || !strings.Contains(problems[0].Message, "winter time") {
		t.Errorf("%d readings, %v", len(list), problems)
	}
	list, problems, _ = readLogger(t, text, func(m *logfile.RoomMap) { m.Zone = logfile.ClockWinter })
	if len(list) != 3 || len(problems) != 0 || list[2].At.UTC().Hour() != 2 {
		t.Errorf("winter time: %v, %v", list, problems)
	}
}

func TestLoggerProblemsAreNamed(t *testing.T) {
	t.Parallel()
	list, problems, m := readLogger(t, "time,temp\n03/04/2026 10:00,20\nrubbish,21\n03/04/2026 10:05,warm\n03/04/2027 10:05,21\n03/04/2026 10:10,99\n")
	if len(list) != 1 || len(problems) != 4 || !m.Unsure {
		t.Errorf("%d readings, problems %v, unsure %v", len(list), problems, m.Unsure)
	}
	for _, text := range []string{"", "hello", "a,b\n1,2\n"} {
		if _, err := logfile.ReadDated([]byte(text)); grow.KindOf(err) != grow.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
	s, err := logfile.ReadDated([]byte("time,temp\n2026-03-14 10:00,20\n"))
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Room(logfile.RoomMap{Time: "when", Temp: "temp"}, time.UTC, 0, loggerNow); grow.KindOf(err) != grow.Invalid {
		t.Errorf("a column that is not there: %v", err)
	}
	shifted, _, err := s.Room(s.GuessRoom(), time.UTC, 90*time.Minute, loggerNow)
	if err != nil || shifted[0].At.Hour() != 11 {
		t.Errorf("a clock that was slow: %v, %v", shifted, err)
	}
}

// FuzzRead: no file brings the reading down; every reading of a room that comes out
// of one is legal, and no probe has more readings than the file has rows.
func FuzzRead(f *testing.F) {
	f.Add([]byte("time;temp °F\n14.03.2026 10:00;70,7\n"))
	f.Add([]byte("\xff\xfe1\x00,\x00"))
	f.Add([]byte("a\n\"2026-01-01 0:00 am,\n"))
	f.Add([]byte("min,a,b\n0,20,30\n1,,31 °F\n"))
	f.Add([]byte("Date,Time,T\n03/14/2026,8:00 PM,250\n"))
	f.Add([]byte("elapsed;\"a;b\";c\n25:10:00;20;---\n"))
	zone := lisbon(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := logfile.Read(data)
		if err != nil {
			return
		}
		l, err := s.Probes(logfile.Format{Zone: zone, Start: start})
		if err == nil && len(l.Probes) == 0 {
			t.Error("no error and nothing read")
		}
		for _, p := range l.Probes {
			if len(p.Points)+p.Missing+len(l.Skipped) > len(data) {
				t.Error("more readings than rows")
			}
		}
		list, _, err := s.Room(s.GuessRoom(), zone, 0, loggerNow)
		if err != nil {
			return
		}
		for _, r := range list {
			if p := r.Problem(loggerNow); p != "" {
				t.Errorf("%+v: %s", r, p)
			}
		}
	})
}

// TestLoggerNewestFirst: the same night in Lisbon, as a file that has its newest
// row first tells it.
func TestLoggerNewestFirst(t *testing.T) {
	t.Parallel()
	list, problems, _ := readLogger(t, "time;temp\n25.10.2026 02:00;25\nrubbish;1\n25.10.2026 01:30;24\n25.10.2026 01:00;23\n25.10.2026 01:30;22\n25.10.2026 01:00;21\n25.10.2026 00:40;20\n")
	if len(problems) != 1 || problems[0].Line != 3 || len(list) != 6 {
		t.Fatalf("%d readings, %v", len(list), problems)
	}
	for i, want := range []string{"2026-10-24T23:40:00Z", "2026-10-25T00:00:00Z", "2026-10-25T00:30:00Z", "2026-10-25T01:00:00Z", "2026-10-25T01:30:00Z", "2026-10-25T02:00:00Z"} {
		if got := list[i].At.UTC().Format(time.RFC3339); got != want || *list[i].TempC != float64(20+i) {
			t.Errorf("reading %d: %v °C at %s, want %s", i, *list[i].TempC, got, want)
		}
	}
}

// TestLoggerThousands: carbon dioxide outside is about 420 ppm (NOAA Global
// Monitoring Laboratory, Mauna Loa), so 1,234 is no 1.2.
func TestLoggerThousands(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{`"1,234"`: 1234, "12.345": 12345, "1,234 ppm": 1234, "412.125": 412.125, "0.412": 0.412, "850,5": 850.5, "1.2345": 1.2345} {
		list, problems, _ := readLogger(t, "time\tco2\n2026-03-14 10:00\t"+text+"\n")
		if len(problems) > 0 || len(list) != 1 || math.Abs(*list[0].CO2ppm-want) > 1e-9 {
			t.Errorf("%s: %+v, %v", text, list, problems)
		}
	}
}

// TestLoggerColumns: two columns of one name can be told apart, a file of nothing
// but columns is refused, a long cell is not told in full, and an open quote takes
// no other cell with it.
func TestLoggerColumns(t *testing.T) {
	t.Parallel()
	list, _, m := readLogger(t, "time,temp,temp\n2026-03-14 10:00,20,30\n", func(m *logfile.RoomMap) { m.Temp = "temp, column 3" })
	if len(list) != 1 || *list[0].TempC != 30 {
		t.Errorf("the second of two columns: %+v by %+v", list, m)
	}
	_, err := logfile.Read([]byte("2026-03-14 10:00" + strings.Repeat(",1", 300) + "\n"))
	if grow.KindOf(err) != grow.TooLarge || !strings.Contains(err.Error(), "line 1") {
		t.Errorf("301 columns: %v", err)
	}
	list, problems, _ := readLogger(t, "time,temp\n2026-03-14 10:00,20\n2026-03-14 10:05,\""+strings.Repeat("x", 500)+"\n")
	if len(list) != 1 || len(problems) != 1 || len(problems[0].Message) > 100 {
		t.Errorf("a long cell: %v", problems)
	}
	list, problems, _ = readLogger(t, "time,temp,note\n2026-03-14 10:00,20,\"open,\"closed\"\n")
	if len(list) != 1 || len(problems) != 0 {
		t.Errorf("an open quote: %v, %v", list, problems)
	}
}
