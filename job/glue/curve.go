package glue

import (
	"time"

	"caul/job/measure"
)

// Never marks a start from which a wait is not over within MaxWait.
const Never int64 = -1

// Curve gives, for every start at a minute tick from 0 to ticks-1 after origin, the first tick
// at which the wait is over, or Never. It sums the work minute by minute once and follows it
// with two pointers, so the cost is one look at the air for each minute of the horizon and the
// last wait, whatever the number of starts. The answers never fall, Never apart. Each is the
// answer of Wait for that start, rounded up to a tick.
func (a *Air) Curve(r Rate, lowest measure.Temperature, origin time.Time, ticks int) []int64 {
	ready := make([]int64, max(ticks, 0))
	if r.None() {
		for i := range ready {
			ready[i] = int64(i)
		}
		return ready
	}
	air := a.reader()
	sp := &speeds{rate: r, lowest: lowest}
	base := origin.Unix()
	if origin.Nanosecond() > 0 {
		base++
	}
	off := base - floorMinute(base)
	limit := int64(MaxWait / measure.Minute)
	work := make([]int64, 0, len(ready)+7*24*60) // done within each tick; grown as the right pointer needs it
	var next int64                               // the speed of the minute after the last tick, when ticks straddle minutes
	haveNext := false
	tick := func(i int64) int64 {
		for int64(len(work)) <= i {
			m := floorMinute(base) + int64(len(work))*60
			cur := next
			if !haveNext {
				cur = sp.at(air.temp(m))
			}
			v := cur * (60 - off)
			if off > 0 {
				next = sp.at(air.temp(m + 60))
				haveNext = true
				v += next * off
			}
			work = append(work, v)
		}
		return work[i]
	}
	var done, right int64 // work in ticks [i, right)
	for i := range ready {
		left := int64(i)
		if right < left {
			right, done = left, 0
		}
		for done < whole && right-left < limit {
			done += tick(right)
			right++
		}
		if done >= whole {
			ready[i] = right
		} else {
			ready[i] = Never
		}
		done -= tick(left)
	}
	return ready
}
