// Package plan works out what to do when: it turns the open jobs, the shop's
// hours, clamps, places and air, and what the log says has happened, into a
// scheduling problem, has job/schedule solve it, and reads the answer back as
// shop days.
package plan
