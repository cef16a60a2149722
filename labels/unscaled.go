package labels

import (
	"bytes"
	"strconv"
)

// The library writes the catalogue as the last object before the cross-reference
// table, so words added to it move nothing but the table itself.
var (
	catalogue = []byte("/Type /Catalog\n")
	noScaling = []byte("/Version /1.6\n/ViewerPreferences << /PrintScaling /None >>\n")
	startXref = []byte("startxref\n")
)

// printUnscaled adds /PrintScaling /None (ISO 32000-1, Table 150: the dialog then
// offers actual size first) to a file that the library has ended.
func printUnscaled(pdf []byte) ([]byte, error) {
	at := bytes.LastIndex(pdf, catalogue)
	tail := bytes.LastIndex(pdf, startXref)
	if at < 0 || tail < at {
		return nil, &Error{Message: "the PDF has no catalogue where one was expected"}
	}
	number, rest, _ := bytes.Cut(pdf[tail+len(startXref):], []byte("\n"))
	table, err := strconv.Atoi(string(number))
	if err != nil || table < at || table > tail || !bytes.HasPrefix(pdf[table:], []byte("xref\n")) {
		return nil, &Error{Message: "the PDF has no cross-reference table where one was expected"}
	}
	at += len(catalogue)
	out := make([]byte, 0, len(pdf)+len(noScaling)+2)
	out = append(out, pdf[:at]...)
	out = append(out, noScaling...)
	out = append(out, pdf[at:tail+len(startXref)]...)
	out = strconv.AppendInt(out, int64(table+len(noScaling)), 10)
	out = append(out, '\n')
	return append(out, rest...), nil
}
