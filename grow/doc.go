// Package grow is the trade itself: batches of bags, what was different about
// each of them, what was seen on which day, and what follows from that.
//
// Start with [Code] (what a label carries), [Entry] (one line of a bag's log)
// and [Replay] (the log is the truth; a bag's state is what replaying it
// gives). [Judge] decides whether a new entry may join a log.
//
// Everything here is a pure function of its arguments: the package reads no
// clock, no randomness and no environment, touches no disk or network, and
// imports the standard library only. Nothing here knows how a farm is stored,
// printed or shown.
package grow
