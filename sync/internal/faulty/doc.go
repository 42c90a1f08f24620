// Package faulty is a disk for tests that fails as disks do: full, pulled out, read-only, or with the machine killed or its
// power cut at the n-th change.
package faulty
