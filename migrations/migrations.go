// Package migrations holds the farm's database schema as numbered SQL files,
// NNNN_verb_noun.sql. They run forward only, one transaction each, and are
// never edited once released.
package migrations

import "embed"

// FS holds the files.
//
//go:embed *.sql
var FS embed.FS
