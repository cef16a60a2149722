// Package demo makes an invented farm, so that everything can be tried before
// the first bag of one's own: eight months of batches, looks, moulds, trials
// and harvests that end yesterday evening, whatever today is.
//
// Start with [Make]. The farm is made as a farm makes itself: through the
// exported methods of package store, day by day, by a clock that is moved
// along. The same day gives the same farm, down to the codes on its labels;
// only its secrets are drawn anew.
//
// The farm, its harbour and its people are invented; how bags grow, spoil and
// crop follows common practice for their species. The package must never touch
// a folder that holds anything else than a farm it made.
package demo
