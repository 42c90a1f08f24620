package layout

import (
	"cmp"
	"slices"
)

// knapsack finds a good filling of one bar with at most so many of each
// length, in short time, by branch and bound cut short (S. Martello, P. Toth,
// "Knapsack Problems", 1990). The best is filler's business.
type knapsack struct {
	size  int64
	w     []int64
	steps int64

	order []int
}

const knapsackNodes = 300

// good gives what the filling is worth and how many of each length it holds.
func (k *knapsack) good(values []int64, most []int) (int64, []int) {
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
	nodes := 0
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
			if nodes++; nodes > knapsackNodes {
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
	walk(0, k.size, 0)
	k.steps += int64(nodes + n)
	return bestV, best
}
