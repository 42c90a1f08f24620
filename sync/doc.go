// Package sync keeps the machines of one shop in step with no network in the shop: home plans, the shop builds, both write,
// and a stick, a share, a host or the shop's own LAN carries the work over.
//
// The shop's folder is an ordinary git repository. A sync
//
//  1. carries on from where an earlier one was cut off;
//  2. notices what changed in the files, hand edits included, and commits it with a message in shop words;
//  3. fetches from each remote, settles both histories in the object store (package settle says how two versions of a file
//     become one), and moves the working files to the result, never over an edit made in the meantime;
//  4. pushes, and says what came, what went, and what needs a look.
//
// Settling is a function of the two histories alone: names, times and order of the commit that joins them come from them
// and not from the machine that does it. So machines that settle the same two histories, each for itself and through
// different remotes, make the very same commit, and any number of them end with the same files.
//
// What belongs to one machine - its name, its remotes - is in .git/caul/machine.yaml and never shared. Secrets are in no file of
// the shop at all.
package sync
