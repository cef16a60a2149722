package static

import (
	"bytes"
	"path"
	"regexp"
)

var (
	cssComment = regexp.MustCompile(`(?s)/\*.*?\*/`)
	jsComment  = regexp.MustCompile(`([;{},]) // .*$`) // after code
)

// Lean is a file as it travels: without comments, indentation and empty lines,
// since a phone at the edge of the Wi-Fi reads none of them. Strings over several
// lines, or with what looks like a comment, are not used in these files.
func Lean(name string, data []byte) []byte {
	ext := path.Ext(name)
	if ext != ".js" && ext != ".css" {
		return data
	}
	if ext == ".css" {
		data = cssComment.ReplaceAll(data, nil)
	}
	var out bytes.Buffer
	for line := range bytes.Lines(data) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || ext == ".js" && bytes.HasPrefix(line, []byte("//")) {
			continue
		}
		if ext == ".js" {
			line = jsComment.ReplaceAll(line, []byte("$1"))
		}
		out.Write(line)
		out.WriteByte('\n')
	}
	return out.Bytes()
}
