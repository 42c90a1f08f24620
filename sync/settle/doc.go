// Package settle puts two machines' versions of one shop file together again,
// by what the file says and not by its lines.
//
// Home plans, the shop builds, both write. When the two meet, each file that
// both changed since they last agreed comes here: the version they agreed on
// (the base) and the two versions of today go in, one version comes out.
//
//   - What only one side changed is taken, with that side's bytes.
//   - What both changed to the same is taken once.
//   - What both changed to different values: the newer edit stands in the
//     file, and the other is kept whole in a record under both-ways/.
//   - What one side deleted and the other edited: the edit stands, and the
//     deletion is a record.
//   - Log entries, photos and other files that cannot be put together are both
//     kept, the second under a name made from its content.
//
// The functions are pure: bytes in, bytes out, no disk, no clock, no git. They
// are symmetric: the two machines may settle the same pair each for itself and
// get the same bytes and the same records. No mark of a clash is ever written
// into a file that the program reads, and whatever the bytes are, nothing of
// either side is dropped: it is in the result, in a record, or was removed
// knowingly by the other side.
//
// Any number of machines come to the same files if the caller does three
// things. The commit that settles two heads is the same on every machine
// (parents in order, the time of the later one, no machine's name). All remotes
// are fetched from and settled before any is pushed to. And where two
// histories crossed and have several bases, these are settled among themselves
// first, records included, and the result is the base (SettleBases, or
// SettleFolder with the bases as the two sides).
package settle
