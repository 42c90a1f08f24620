// Package cutting works out which part comes from which sheet or board: it
// turns parts and stock into a layout problem, has job/layout solve it, and
// reads the answer back as drawings and an order of cuts for the saw.
//
// # What is laid out
//
// The parts of open jobs that are not cut yet: the log's entries that say a
// part was cut or spoiled count, and so does a step that cannot have been done
// without it. A part is sawn to its size and its oversize; from a rough board
// the mill allowance comes on top; a part wider than any board becomes a panel
// glued up from strips of one width. Sheets of one kind, in whatever sizes they
// lie on the shelf or are sold, are one problem; offcuts cost nothing and so go
// first. Lengths are counted in their greatest common divisor, and nothing is
// rounded.
//
// # The order of cuts
//
// The saw does not mind which of a row of parallel cuts comes first. So the
// engine's cuts are folded into rows, each row is cut in the order that keeps the
// fence where it stands, and the pieces are then drawn in the order they come
// off. A setting is taken up when every piece that wants it lies ready, whole
// sheets before what came off them. Dressed stock, rough boards and rods are
// taken one after another, because they share neither saw nor size.
//
// # After the cuts
//
// Apply gives the bytes of stock.yaml with the used pieces out and the offcuts
// in, and the log entries for the parts. A part spoiled at the saw is then laid
// out again, from the offcuts first, by Make.
package cutting
