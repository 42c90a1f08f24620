// Package store keeps a shop's history on disk so that nothing written to it is lost.
//
// The history is an ordinary git repository: every git program, fsck and hosting site reads it. This package writes it
// more carefully than a general library does, because the shop's machine is an old laptop and the remote is a stick that
// gets pulled:
//
//   - every object goes to disk in one pack, synced before any name points at it;
//   - refs and the index are replaced whole: new file, sync, rename, sync of the folder;
//   - index.lock and the ref locks of git are taken and respected, so git may work beside;
//   - the working files are moved to a merged state under a journal, file by file, each only while it still holds what was
//     last committed; a hand edit made in the meantime is never overwritten;
//   - no file is written through a symbolic link, and no path from another machine may leave the shop or enter .git.
//
// All writing goes through the Disk interface, so that tests can put a failing disk, a full disk or a power cut in between.
package store
