// Package job is the shop and its jobs as plain files: it reads a shop folder
// strictly (every error of the folder at once, each at its line and column),
// edits it by splicing only the bytes an edit needs, adds entries to a job's
// log, and folds that log into the state each step is in.
//
// What a person may write is described by the types in this package; their
// fields carry the place they were read from, so that every later answer can
// point back at the line it came from.
package job
