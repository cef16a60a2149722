// Package cli is the command line: one file a command.
//
// Start with [Run], which finds the command, and the commands table in it.
// What a command answers goes to standard output; standard error has the one
// line that says what failed and perhaps a hint, and the log of a server.
//
// The package decides nothing about a farm: it opens one and hands over to
// store and server. It never asks anything back, so that scripts can rely on it.
package cli
