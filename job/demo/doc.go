// Package demo writes an invented shop to look round in: a finished shooting
// board with its whole log, a torsion-box table with something in the clamps
// now, and a frame-spline jig that is not begun. Its log is dated back from
// the moment it is made and falls in the shop's own hours. Every name, price
// and figure in it is made up.
package demo
