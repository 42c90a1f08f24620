// Package machine holds what a shop needs to know of its machines, cutters and screws: the
// usual cautions of each machine, how wide a blade cuts, what a cutter leaves, how fast a rim
// runs, and what hole a screw wants. Each figure names its source.
//
// Cautions are reminders. The machine's manual, local rules and qualified people come first.
package machine
