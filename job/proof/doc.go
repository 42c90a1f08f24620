// Package proof tells on paper whether a job can be made: machining that
// breaks through, parts that do not fit, hardware that is missing, work that
// is not safe.
package proof
