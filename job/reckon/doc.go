// Package reckon does the sums that a maker does on a scrap of wood: how far to move the fence
// after five cuts, how far a board will move, how many board feet, how many clamps, where the
// slots go, what to drill.
//
// Each sum is listed with its inputs, so that a command or a page can ask for them without
// knowing the arithmetic: List names them, Run reads the inputs as text and works the sum out.
// The answer comes in the shop's units, with the working, the source of every figure, and the
// caution that belongs to it. A length may be a sum of its own, such as `24 - 1/8`.
package reckon
