// Package layers holds the rules of who may import whom, as a test.
//
// It has no code of its own: the table in layers_test.go is policy. A new
// package gets a row with its reason, a new module of the binary a line. The
// table is never loosened to fix a build.
package layers
