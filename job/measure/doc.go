// Package measure holds the quantities a shop reckons in: lengths, areas, money,
// temperatures and spans of time. It reads what a maker writes (12-1/8, 1' 6-1/2",
// 30.8 cm, 16 C, 1 h 30 min, 12.50 USD), adds it up exactly, and writes it back in the
// shop's own units.
//
// A Length is a whole number of 1/400000 mm. One millimetre is 400,000 of them and one
// inch 10,160,000, so 1/128 in, 0.0001 in and 0.01 mm are all whole and no sum of marks on a
// rule or a caliper is ever rounded. A parsed length is at most 100 km, so that the sum of
// two hundred thousand lengths still fits.
//
// # Sums over named measures
//
// An Expr is a sum such as `slot-left + 3/8`, `(base - insert) / 2` or `min(a, b - 1/8)`.
//
//   - A name is letters, digits and underscores, and may hold hyphens inside: `slot-left`
//     and `a-b` are each one name. A minus between two operands needs a space on both
//     sides, unless a bracket stands there: `a - b`, `(a)-(b)`.
//   - `12-1/8` and `12 1/8` are each one mixed number, twelve and an eighth; `12 - 1/8`
//     takes an eighth from twelve; `12 -1/8` and `12-1` are refused, because a reader could
//     take them either way.
//   - `3/4` right after an operator or at the start is one fraction; `a / 4` divides.
//   - A bare number is a length in the shop's unit where a length is wanted, and a plain
//     number as a multiplier or divisor. A length times a length, or a number divided by a
//     length, is an error; a length divided by a length is a plain number.
//   - Inside, values are exact fractions. The answer is rounded once, at the end, to the
//     unit, halves away from zero; Value.Exact says whether that changed anything.
//   - A decimal comma is read outside min and max; inside, a comma between two digits is
//     refused (`min(1,5)`), because it could be either.
//
// Errors are *ParseError: the column counts characters from 1.
package measure
