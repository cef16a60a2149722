// Package scanner turns what was scanned into the label it means: a typed
// code, the text of a hand-held scanner, or a photograph with one symbol or a
// whole shelf of them.
//
// Start at [ParseTyped] for text and at [Reader.Read] for pictures. A picture
// travels finder → grid → bits → text: finder.go looks for the three corner
// squares, grid.go lays the modules' grid over the picture, sample.go measures
// them and decode.go reads them. Symbols are those of ISO/IEC 18004.
//
// The package knows symbols and codes, never bags: whether a code is known, and
// what it stands for, is the store's business. It must never mend a code whose
// check character is wrong, and never call a find certain that was made by
// comparing a blurred symbol with the codes the farm has printed.
package scanner
