// Package wood holds what a shop needs to know of its wood and sheet goods: how moisture in
// the air becomes moisture in the board, how far a board moves with it, what it weighs and how
// hard it is; how lumber is measured and dressed; how true a sheet is when it is bought.
//
// Figures come from the USDA Forest Products Laboratory's Wood Handbook, the lumber and panel
// standards, and reprints of them; each says which, and whether it was checked against a copy.
// Lengths are exact; moisture, movement and weight are physics and use floats.
package wood
