// Package server serves a farm: the pages for phones and the office, and the
// JSON API for other programs.
//
// Start at routes.go: the whole site is one table of routes, each with its
// method, its path, the least role that may use it, the most bytes it reads and
// its handler. A request passes, in this order: request id, log, recovery from
// panics, headers, Host, origin, route, rights, body limit, handler. A handler
// reads what was sent, makes one call of the store, and answers; it returns an
// error instead of writing one, and errors.go is the only place that turns an
// error into an answer.
//
// openapi.yaml describes every route of the API; a test holds it to the table.
//
// The package must never change anything on a GET, never read a body before the
// rights are checked, never write an entry but through the store, and never show
// a browser the cause of an internal error.
package server
