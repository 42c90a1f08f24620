// Package glue holds the adhesives of a woodworking shop by generic type, the shop's air over
// the day and the night, and the sums of a glue-up: whether the glue can be spread and the
// joint closed in time, how much to pour, how many clamps, when they come off and when the
// joint may be machined.
//
// # Waits
//
// A glue's label gives a time at one temperature or at several. In between, the logarithm of
// the time runs straight against 1/T (the Arrhenius line through the two points); beyond the
// last point the time doubles for every 10 °C colder and halves for every 10 °C warmer. Below
// the glue's lowest temperature nothing happens at all. The joint is ready when the fractions
// of the wait served at each temperature add up to one:
//
//	∫ dt / wait(T(t)) = 1, from the moment the clamps go on
//
// The air is taken as steady within each minute of the clock and the fractions are whole
// numbers of a millionth of a millionth, so that the answer is the same on every machine and
// starting later never ends earlier. Time is exact: a night on which the clocks change is as
// long as it is.
//
// Clamp time, time to machining and time to full strength all count from clamps on.
//
// Figures are for planning. The label on the glue comes first, and a shop's own label figures
// replace the ones here.
package glue
