package schedule

import "sort"

// profile is the use of one resource over time as steps: used[k] holds from
// at[k] to at[k+1]. The first step begins at minus infinity.
type profile struct {
	at   []int64
	used []int
}

func (f *profile) reset() {
	f.at = append(f.at[:0], -inf)
	f.used = append(f.used[:0], 0)
}

// step is the index of the step that holds tick t.
func (f *profile) step(t int64) int {
	return sort.Search(len(f.at), func(i int) bool { return f.at[i] > t }) - 1
}

// cut makes sure that a step begins at t and gives its index.
func (f *profile) cut(t int64) int {
	k := f.step(t)
	if f.at[k] == t {
		return k
	}
	f.at = append(f.at, 0)
	f.used = append(f.used, 0)
	copy(f.at[k+2:], f.at[k+1:])
	copy(f.used[k+2:], f.used[k+1:])
	f.at[k+1] = t
	f.used[k+1] = f.used[k]
	return k + 1
}

// add takes qty (which may be negative) from from until to.
func (f *profile) add(from, to int64, qty int) {
	if from >= to {
		return
	}
	i := f.cut(from)
	j := len(f.at)
	if to < inf {
		j = f.cut(to)
	}
	for k := i; k < j; k++ {
		f.used[k] += qty
	}
}

// clash gives the end of the last step within [from, to) in which use would
// exceed most, or -inf when it fits. The end is inf if that use never ends.
func (f *profile) clash(from, to int64, most int) int64 {
	if from >= to {
		return -inf
	}
	for k := f.lastBefore(to); k >= 0; k-- {
		if k+1 < len(f.at) && f.at[k+1] <= from {
			break
		}
		if f.used[k] > most {
			if k+1 < len(f.at) {
				return f.at[k+1]
			}
			return inf
		}
	}
	return -inf
}

func (f *profile) lastBefore(t int64) int {
	return sort.Search(len(f.at), func(i int) bool { return f.at[i] >= t }) - 1
}
