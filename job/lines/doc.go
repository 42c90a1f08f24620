// Package lines lays words out in lines of a set width, for terminals and for
// drawings.
package lines
