// Package share makes a build fit to send, and takes one in.
//
// A shared build is a small shop of its own with one job: the plain files
// first, scrubbed of all that is private, and pages drawn from those files
// alone, so that a page can hold nothing that the files do not. Taking one in
// treats every byte as a stranger's: nothing is run, no link followed, nothing
// written outside the job's own new folder.
package share
