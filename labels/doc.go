// Package labels draws label sheets: symbols, words and pen boxes on die-cut
// paper or a roll, as a PDF made of vectors.
//
// Start at [Job]: it takes a [Sheet], a list of [Label] and a few choices of
// the printer, and its PDF method gives the file. [Sheets] lists the stock that
// is known by name. [NewSymbol] turns a payload into the module matrix that is
// printed, and is what a reader uses to know how a label looks. [Calibration]
// draws the page that shows how far a printer strays.
//
// The package knows millimetres and words, not bags: nothing here knows what a
// date or a departure means. It must never read a clock, never write outside a
// die cut (the calibration page aside), never put an image into a file, and
// never give two different files for the same job.
//
// # What a label keeps
//
// Symbol, code, short name, date, bag number and every departure are printed
// on every stock, however small. What does not fit falls out in this order:
// hint, full species name, batch, pen boxes, strain, weekday. Only then do
// letters shrink much, names before departures. Pen boxes outlive the full name
// and the batch because they keep a label true without a new print.
//
// # Where the numbers come from
//
//   - The quiet zone of 4 modules on each side, the versions and the levels:
//     ISO/IEC 18004.
//   - A module is a whole number of printer dots, a dot being 25.4 mm divided by
//     the dots per inch (arithmetic), and at least 4 of them (common practice).
//   - Module sizes for each stock, 1 mm kept free inside the die cut, 5 mm kept
//     free at the edge of a page: common practice.
//   - Layouts of sheets and rolls: dimensions in common use, from memory; margins
//     follow from labels and pitches by arithmetic. A farm can change every one.
//   - Letters: 1/200 of the reading distance, so 5 mm at 1 m and 3.5 mm at arm's
//     length (human-factors practice; Smith 1979, Human Factors 21(6) 661-670).
//   - /PrintScaling /None: ISO 32000-1, Table 150.
package labels
