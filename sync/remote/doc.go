// Package remote carries a shop's history to the places where two machines meet: a folder on a stick or a network share, a
// host behind ssh, a git server behind https, and another machine on the shop's own LAN.
//
// Every kind gives the same few promises, and one suite of tests holds each of them to it: what is fetched is complete or is
// not there at all; of two machines that push at once one gets ErrMoved and nothing of either is lost; a push moves the
// branch only after everything it needs has arrived. No git program is needed for any of them.
package remote
