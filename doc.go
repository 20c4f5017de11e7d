// Package yokemate holds the nouns of the transformer bench: units with their
// windings, readings and the meters that took them, hookups, needs, and the
// answers the engine gives about them. It holds their rules too: what a shelf
// or hookup file may say, and which code, sentence and mend an error carries.
//
// It does no physics, keeps no store and draws nothing.
//
// A newcomer reads in this order: value.go (a number that knows how well it
// is known), unit.go, hookup.go, prediction.go; then package phys/network,
// which turns a hookup over a shelf into equations, and predict, which turns
// the equations' answer into numbers with intervals and notes.
//
// Every number is in SI base units, volts and amperes as rms, unless a
// field's comment says otherwise.
package yokemate
