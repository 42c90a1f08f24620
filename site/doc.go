// Package site draws a shop and its jobs as pages that can be opened from a
// folder, sent to a friend or put on any static host: no script needed,
// nothing loaded from elsewhere.
//
// Render is a pure function from what is known to paths and bytes; Write is
// the one place that touches the disk, and touches only what has changed.
package site
