// Package cutting works out which part comes from which sheet or board: it
// turns parts and stock into a layout problem, has job/layout solve it, and
// reads the answer back as drawings and an order of cuts for the saw.
package cutting
