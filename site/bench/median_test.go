package bench

import (
	"slices"
	"time"
)

func median(d []time.Duration) time.Duration {
	slices.Sort(d)
	return d[len(d)/2]
}

// unlimited lets a benchmark tap faster than hands can.
func (d *door) unlimited() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.devices[""] = &device{tokens: 1e9, last: benchNow}
}
