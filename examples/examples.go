// Package examples holds the files of an invented bench, for the demo, the
// tests and whoever wants a file to start from: the workshop of a marionette
// theatre (Fernhollow, 230 V 50 Hz) and the shack of a harbour radio club
// (Tern Point, 120 V 60 Hz). It computes nothing.
package examples

import "embed"

// Files are the shelves, needs, hookups and answers by their names.
//
//go:embed *.json
var Files embed.FS
