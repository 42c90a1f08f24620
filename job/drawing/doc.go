// Package drawing draws a part for the bench: its views to scale as a pencil
// drawing with every cut located once, a drilling template at full size on
// paper, and labels for the pieces of a jig that are changed.
package drawing
