// Package bench serves the live page for the phone or old laptop on the bench:
// what is in the clamps with its time left, what can be done now, and one tap
// to write down what happened.
//
// It listens where it is told to and nowhere else, answers only requests that
// name it as their host, writes only for a page of its own, and on the shop's
// network only for a device that has given the code shown in the terminal.
// Taps carry an id and their own time; each is applied once, however often it
// is sent.
package bench
