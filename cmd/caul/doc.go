// Command caul follows a woodworking jig from idea to a jig that is still true
// two years later: it proofs a job, lays out its cuts, prices it, plans it
// around glue that sets on its own clock, follows it at the bench, draws it as
// pages, and keeps shop and home machines in step.
//
// Here are flags in, one call, and text or JSON out; every sum is made in the
// packages below.
package main
