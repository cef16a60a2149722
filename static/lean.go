package static

import (
	"bytes"
	"path"
	"regexp"
)

var (
	cssComment = regexp.MustCompile(`(?s)/\*.*?\*/`)
	cssSpace   = regexp.MustCompile(`\s*(?:;\s*(})|([{};>]))\s*|([:,]) `)
	cssZero    = regexp.MustCompile(`([ :(,])0\.`)
	jsSpace    = regexp.MustCompile("\"[^\"]*\"|`[^`]*`| ?(=>|[=!]==|&&|\\|\\||\\?\\??|[-+?]*=|[{}(),;:]) ?") // strings stay
	jsComment  = regexp.MustCompile(`([;{},]) // .*$`)                                                        // after code
)

// Lean is a file as it travels: without comments, indentation and empty lines,
// since a phone at the edge of the Wi-Fi reads none of them, and without most of
// the spaces around what needs none. Strings over several lines, or with what
// looks like a comment, are not used in these files.
func Lean(name string, data []byte) []byte {
	ext := path.Ext(name)
	if ext != ".js" && ext != ".css" {
		return data
	}
	if ext == ".css" {
		data = cssSpace.ReplaceAll(bytes.TrimSpace(cssComment.ReplaceAll(data, nil)), []byte("$1$2$3"))
		return cssZero.ReplaceAll(data, []byte("$1."))
	}
	var out bytes.Buffer
	for line := range bytes.Lines(data) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || bytes.HasPrefix(line, []byte("//")) {
			continue
		}
		line = jsComment.ReplaceAll(line, []byte("$1"))
		if bytes.Count(line, []byte("`")) <= 2 { // else one string may be inside another
			line = jsSpace.ReplaceAllFunc(line, tight)
		}
		out.Write(line)
		if end := line[len(line)-1]; end != ';' && end != '{' && end != ',' || bytes.Contains(line, []byte("//")) {
			out.WriteByte('\n')
		}
	}
	return out.Bytes()
}

// tight is an operator without the spaces around it, or a string as it was.
func tight(found []byte) []byte {
	if found[0] == '"' || found[0] == '`' {
		return found
	}
	return bytes.TrimSpace(found)
}
