package store

import (
	"bufio"
	"encoding/json"
	"io"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// cellWriter writes comma-separated values by RFC 4180: lines end in CR LF, a
// cell with a comma, a quote or a line break in it is quoted, and what is in a
// cell is written as it is. (The standard library's writer would change line
// breaks inside cells.)
type cellWriter struct{ out *bufio.Writer }

func newCellWriter(w io.Writer) *cellWriter { return &cellWriter{bufio.NewWriter(w)} }

// line writes one line, its cells guarded. A failure shows at the latest when
// flushing.
func (w *cellWriter) line(cells []string) error {
	for i, c := range cells {
		if i > 0 {
			w.out.WriteByte(',')
		}
		c = grow.GuardCell(c)
		if strings.ContainsAny(c, ",\"\r\n") {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		w.out.WriteString(c)
	}
	_, err := w.out.WriteString("\r\n")
	return err
}

func (w *cellWriter) flush() error { return w.out.Flush() }

// cellOf is a value of a JSON object as a cell: text as it is, nothing for
// null, a list of words joined by semicolons, the rest as JSON.
func cellOf(v json.RawMessage) string {
	var text string
	var list []string
	switch {
	case len(v) == 0 || string(v) == "null":
		return ""
	case json.Unmarshal(v, &text) == nil:
		return text
	case json.Unmarshal(v, &list) == nil:
		return strings.Join(list, "; ")
	}
	return string(v)
}

// cellsOf writes a value that has a JSON object for its form as cells, one a
// key.
func cellsOf(v any, keys []string) ([]string, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(data, &fields); err != nil {
		return nil, err
	}
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = cellOf(fields[k])
	}
	return out, nil
}

func numberCell(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

func textCell(v *string) string {
	if v == nil {
		return ""
	}
	return *v
}

func timeCell(t *time.Time, zone *time.Location) string {
	if t == nil {
		return ""
	}
	return t.In(zone).Format(time.RFC3339Nano)
}

func dateCell(t *time.Time, zone *time.Location) string {
	if t == nil {
		return ""
	}
	return t.In(zone).Format(time.DateOnly)
}
