// Package scanner turns what was scanned into the label it means: a typed
// code, the text of a hand-held scanner, or a photograph with one symbol or a
// whole shelf of them.
//
// Start at [ParseTyped] for text and at [Reader.Read] for pictures; search.go
// tells a picture's whole way:
//
//   - picture.go, exif.go, gray.go: bytes to luminance, after their size was checked;
//   - flat.go, finder.go, finder_shape.go: the squares in the symbols' corners;
//   - triple.go, pair.go: three of them, or two, that may belong together;
//   - grid.go, patch.go, align.go, track.go: the modules' grid, bent as the bag is;
//   - equal.go: blur taken out again;
//   - layout.go, codewords.go, reedsolomon.go: modules to text;
//   - segment.go, book.go, match.go, deepen.go: what the farm is known to have
//     printed helps where nothing else does;
//   - library.go: the library's own sampling, for symbols that cannot be ours;
//   - budget.go: what all that may cost;
//   - tracker.go: what several frames of a live camera show together.
//
// Symbols are those of ISO/IEC 18004. Numbers said to be measured come from
// pictures drawn by the tests (go test -run TestRates -rates -v).
//
// The package knows symbols and codes, never bags: whether a code is known, and
// what it stands for, is the store's business. It must never mend a code whose
// check character is wrong, and never call a find certain that was made by
// comparing a blurred symbol with the codes the farm has printed.
package scanner
