// Package store keeps a farm in one folder: an SQLite database and its photos.
//
// Start with [Open]. Each exported method is one use case and one transaction:
// it loads, lets a pure function of package grow decide, and saves. No other
// way leads to an entry than [Store.AddEntry] and [Store.AddEntries]. What a
// method returned without an error is on the disk.
//
// The package never serves, prints or draws anything, and never hands out a
// database handle.
package store
