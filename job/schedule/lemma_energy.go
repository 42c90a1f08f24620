package schedule

import (
	"fmt"
	"slices"
)

// energy: in the stretch from b to t the activities surely take more of a
// resource, or of a surrogate, than it has.
func (g *given) energy(r int, b, t int64) bool {
	c := g.c
	var q []int64
	most := int64(0)
	if r < len(c.p.Resources) {
		q, most = make([]int64, c.n), int64(c.p.Resources[r].Capacity)
		for i := range q {
			q[i] = int64(c.qty(r, i, i))
		}
	} else if q, most = c.weights[r], c.holding[r]; q == nil {
		return false
	}
	if b < 0 || t > maxTick || t <= b {
		return false
	}
	sum := int64(0)
	for i := range c.p.Activities {
		if q[i] == 0 {
			continue
		}
		// what lies in the stretch falls off on both sides, so the least is at an end
		over := func(s int64) int64 { return max(0, min(t, c.endAt(i, s))-max(b, s)) }
		if !c.plain(i) {
			continue
		}
		sum += q[i] * min(over(g.first(i)), over(g.last(i)))
	}
	return sum > most*(t-b)
}

// plain: the activity takes its work without a pause, whenever it starts.
func (c *replay) plain(i int) bool {
	a := &c.p.Activities[i]
	return a.Fixed == nil && a.Stretch == nil && (a.Calendar == Always || !a.Split)
}

// surrogate takes in weights of activities and how much weight can be under
// way at once, which it works out again.
func (c *replay) surrogate(fs []string) error {
	v, err := parseInts(fs)
	if err != nil || len(v) < 4 || len(v)%2 != 0 || v[0] < len(c.p.Resources) || c.weights[v[0]] != nil || v[1] < 0 {
		return fmt.Errorf("bad surrogate")
	}
	w := make([]int64, c.n)
	for k := 2; k < len(v); k += 2 {
		if v[k] < 0 || v[k] >= c.n || v[k+1] < 0 || v[k+1] > 1<<20 || w[v[k]] != 0 || !c.plain(v[k]) || c.lb[2*v[k]] < 0 || c.p.Activities[v[k]].Work == 0 {
			return fmt.Errorf("bad surrogate")
		}
		w[v[k]] = int64(v[k+1])
	}
	s := crowd{c: c, w: w, room: make([]int, len(c.p.Resources)), most: int64(v[1]), tries: 20_000_000}
	for i, x := range w {
		if x > 0 {
			s.who = append(s.who, i)
		}
	}
	slices.SortStableFunc(s.who, func(a, b int) int { return int(w[b] - w[a]) })
	for r := range s.room {
		s.room[r] = c.p.Resources[r].Capacity
	}
	s.out = make([]int, c.n)
	s.take(0, 0)
	if s.over || s.tries <= 0 {
		return fmt.Errorf("more than %d of the surrogate can be under way at once", v[1])
	}
	c.weights[v[0]], c.holding[v[0]] = w, int64(v[1])
	return nil
}

// crowd looks through the sets of activities that can be under way together.
type crowd struct {
	c     *replay
	w     []int64
	who   []int
	room  []int
	out   []int // how many of the set exclude it
	most  int64
	tries int
	over  bool
}

func (s *crowd) take(k int, have int64) {
	if s.tries--; have > s.most {
		s.over = true
	}
	if s.over || s.tries <= 0 {
		return
	}
	// by every resource, the rest adds at most its weight as far as there is room
	fits := func(i int) bool {
		if s.out[i] > 0 {
			return false
		}
		for r := range s.room {
			if s.c.qty(r, i, i) > s.room[r] {
				return false
			}
		}
		return true
	}
	var rest []int
	for _, i := range s.who[k:] {
		if fits(i) {
			rest = append(rest, i)
		}
	}
	if have+s.bound(rest) <= s.most {
		return
	}
	for x, i := range rest {
		// sets that hold i and none of those before it
		if have+s.bound(rest[x:]) <= s.most {
			return
		}
		for r := range s.room {
			s.room[r] -= s.c.qty(r, i, i)
		}
		var shut []int
		for _, j := range rest[x+1:] {
			if s.c.surely(i, j) || s.c.surely(j, i) {
				s.out[j]++
				shut = append(shut, j)
			}
		}
		at := slices.Index(s.who, i)
		s.take(at+1, have+s.w[i])
		for _, j := range shut {
			s.out[j]--
		}
		for r := range s.room {
			s.room[r] += s.c.qty(r, i, i)
		}
	}
}

// bound is what some activities can add at most: over every resource, the
// greatest weight a unit of it, in parts.
func (s *crowd) bound(rest []int) int64 {
	best := int64(0)
	for _, i := range rest {
		best += s.w[i]
	}
	need, room := make(map[int]int64, len(rest)), int64(0)
	for r := range s.room {
		full := s.c.p.Resources[r].Capacity
		if full == 0 {
			continue
		}
		unit := int64(max(1, 10_000/full))
		room += unit * int64(s.room[r])
		for _, i := range rest {
			need[i] += unit * int64(s.c.qty(r, i, i))
		}
	}
	order := slices.Clone(rest)
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := s.w[a]*need[b], s.w[b]*need[a]
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	sum := int64(0)
	for _, i := range order {
		if need[i] > room {
			sum += s.w[i] * room / need[i]
			break
		}
		sum += s.w[i]
		room -= need[i]
	}
	return min(best, sum)
}
