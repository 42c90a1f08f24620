// Package layout lays rectangles out on sheets and boards so that a saw can
// cut them: every cut runs straight through the piece it is made in, takes a
// kerf, and leaves two pieces. It finds layouts that cost little, proves how
// far they can be from the best, and knows nothing of wood, files or money
// beyond whole numbers.
//
// # The problem
//
// All lengths are int64 counts of one unit that the caller chooses. X runs
// along the grain and Y across it, on stock and on parts alike. A part that
// must keep its grain lies as it is given; a part with Turn may also lie
// turned by 90 degrees. Sheets of several sizes and prices may be had in
// limited or unlimited numbers; an edge trim is lost on each side; defects are
// rectangles that no part may touch. All parts of one Group come from one
// sheet.
//
// Boards, rods and extrusions are the same problem: parts without a Y, or
// parts so wide that no two lie side by side, are laid out by length alone,
// on a faster and exact road.
//
// # The kerf
//
// The blade takes Kerf between any two pieces. A cut may run partly off the
// piece: a part 10 wide can be had from a piece 10 + 1 wide with a kerf of 3,
// and nothing is left. So n parts of width w need n*w + (n-1)*Kerf.
//
// # The answer
//
// Solve looks for the least cost, then the fewest bought sheets, then the
// fewest sheets, then the largest single offcut worth keeping, then the fewest
// different fence settings. Each of these levels carries a bound with the
// proof behind it; Proved means that no layout whatever does better on this
// level, given the levels before it. Equal input and equal options give equal
// output, as long as the context does not end the search first.
//
// Check verifies an answer by itself, from the problem and the cuts alone.
package layout
