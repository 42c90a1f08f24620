package bench

import (
	"time"

	"caul/job"
	"caul/job/proof"
)

// verdicts are all readings of a job by their entry, and the newest of every
// check.
func verdicts(s *job.Shop, j *job.Job) (byEntry, newest map[string]*proof.Reading) {
	byEntry, newest = map[string]*proof.Reading{}, map[string]*proof.Reading{}
	for _, se := range proof.Readings(s, j, time.Time{}) {
		for _, r := range se.Readings {
			byEntry[r.Entry], newest[se.Check] = &r, &r
		}
	}
	return byEntry, newest
}
