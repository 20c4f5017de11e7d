// Package num is the mathematics that the physics needs and no library has:
// so far the distribution of the modulus of a complex normal variable. It
// knows no trade words; factorisations, least squares and distributions are
// gonum's.
package num
