package layout

import (
	"cmp"
	"math"
	"slices"
)

// knapsack finds the most valuable filling of one bar with at most so many of
// each length, exactly: by branch and bound, and where that takes long by a
// dynamic program (S. Martello, P. Toth, "Knapsack Problems", 1990).
type knapsack struct {
	size  int64
	w     []int64
	steps int64

	order []int
	f     []int64
	taken [][]uint64
}

const (
	knapsackNodes = 20_000
	knapsackTable = 200_000_000
)

func (k *knapsack) best(values []int64, most []int) (int64, []int) {
	return k.search(values, most, false)
}

// good gives a good filling in short time, not always the best.
func (k *knapsack) good(values []int64, most []int) (int64, []int) {
	return k.search(values, most, true)
}

func (k *knapsack) search(values []int64, most []int, short bool) (int64, []int) {
	k.order = k.order[:0]
	smallest := k.size + 1
	for i, v := range values {
		if v > 0 && most[i] > 0 && k.w[i] <= k.size {
			k.order = append(k.order, i)
			smallest = min(smallest, k.w[i])
		}
	}
	slices.SortFunc(k.order, func(a, b int) int {
		return cmp.Or(cmp.Compare(float64(values[b])*float64(k.w[a]), float64(values[a])*float64(k.w[b])), cmp.Compare(a, b))
	})
	n := len(k.order)
	cur, best := make([]int, len(values)), make([]int, len(values))
	var bestV int64
	nodes, limit := 0, max(knapsackNodes, int(min(k.size*int64(n)/40, 1<<20)))
	if short {
		limit = 300
	}
	tail := make([]int64, n+1) // smallest length from here on
	tail[n] = k.size + 1
	for t := n - 1; t >= 0; t-- {
		tail[t] = min(tail[t+1], k.w[k.order[t]])
	}
	var walk func(t int, room, v int64) bool
	walk = func(t int, room, v int64) bool {
		if v > bestV {
			bestV = v
			copy(best, cur)
		}
		for ; t < n; t++ {
			if room < tail[t] {
				return true
			}
			i := k.order[t]
			// No filling of the room is worth more than at this length's rate.
			if float64(v)+float64(values[i])*float64(room)/float64(k.w[i])+1 <= float64(bestV) {
				return true
			}
			if k.w[i] > room {
				continue
			}
			if nodes++; nodes > limit {
				return false
			}
			for c := min(int(room/k.w[i]), most[i]); c > 0; c-- {
				cur[i] = c
				if !walk(t+1, room-int64(c)*k.w[i], v+int64(c)*values[i]) {
					return false
				}
				cur[i] = 0
			}
		}
		return true
	}
	ok := walk(0, k.size, 0)
	defer func() { k.steps += int64(nodes + n) }()
	if short {
		return bestV, best
	}
	if !ok && k.size*int64(n) < knapsackTable {
		return k.table(values, most)
	}
	if !ok {
		// Too large for either: go on without a limit of nodes.
		limit = math.MaxInt
		clear(cur)
		walk(0, k.size, 0)
	}
	return bestV, best
}

// table is the dynamic program.
func (k *knapsack) table(values []int64, most []int) (int64, []int) {
	size := int(k.size)
	if len(k.f) != size+1 {
		k.f = make([]int64, size+1)
	}
	f := k.f
	clear(f)
	type bundle struct{ i, c int }
	var bs []bundle
	words := size/64 + 1
	for _, i := range k.order {
		left := min(most[i], size/int(k.w[i]))
		for c := 1; left > 0; c *= 2 {
			c = min(c, left)
			left -= c
			b := len(bs)
			bs = append(bs, bundle{i, c})
			if b == len(k.taken) {
				k.taken = append(k.taken, make([]uint64, words))
			}
			row := k.taken[b]
			clear(row)
			w, v := c*int(k.w[i]), int64(c)*values[i]
			for x := size; x >= w; x-- {
				if t := f[x-w] + v; t > f[x] {
					f[x] = t
					row[x/64] |= 1 << (x % 64)
				}
			}
			k.steps += int64(size / 16)
		}
	}
	n := make([]int, len(values))
	x := size
	for b := len(bs) - 1; b >= 0; b-- {
		if k.taken[b][x/64]>>(x%64)&1 == 1 {
			n[bs[b].i] += bs[b].c
			x -= bs[b].c * int(k.w[bs[b].i])
		}
	}
	return f[size], n
}
