// Package plan reckons what a farm will pick week by week: what the bags alive
// now promise, and how many bags to make on which day to have so many kilograms
// in a week to come.
//
// A Kind is how a species or strain does on the farm: the days of each step of a
// bag's way (growing over, ripening, to the first picking, between flushes), the
// flushes it gives, the grams of a bag, and how many bags give nothing. BuiltIn
// Kinds come from published ranges; Learn sharpens them by the farm's own
// batches. Promise plays the bags alive forward; NewBatch does so for bags that
// could be made, and Want finds how many.
//
// # How
//
// Weeks are sums over bags, and the quantile of a sum is not the sum of
// quantiles. So each answer is read off Runs plays of the whole farm, every one
// a complete future: in a play the species has one mean day and one mean crop
// (what is not known of the farm), each batch lies off that with all its bags
// (what bags of one batch share), and each bag off its batch. For one step of
// bag i in batch b, on log days:
//
//	log(T + shift) = mean + SD·Z + Between·Z_b + Within·Z_bi     (all Z standard normal)
//
// and, of a bag that has waited e days in that step, the same law given T > e.
// The grams of a bag that gives are m·(1 + …) in the same three levels, cut at
// 0; flush k is its share of that. A bag gives nothing with its batch's chance
// p_b ~ Beta(P·M, (1-P)·M), brought up to date by the bags its batch has lost and
// those that have come through. The figure for a week is the 10, 50 and 90 %
// point of its Runs sums.
//
// Draws are made from seeds that hang on the species and the batch, so the same
// farm gets the same answer, and a change in one batch leaves the draws of others
// as they were. The package reads no clock and no storage, and never promises
// without a range.
package plan
