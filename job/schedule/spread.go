package schedule

import (
	"context"
	"slices"
)

// Sets that can be under way together: time is cut where a window of an
// activity begins or ends, and in each piece the pieces of work are spread over
// sets of activities that neither exclude nor precede each other and fit the
// resources. If no spreading gives every activity its work, no schedule exists
// within the windows (Mingozzi, Maniezzo, Ricciardelli, Bianco 1998; Brucker,
// Knust 2000). The linear program is solved by column generation. What counts
// in the end is exact: whole weights w and for every piece the greatest weight
// that can be under way at once; if the weighted work is more than the pieces
// can hold, there is no schedule.

// column is a set in one piece of time, by rows of the linear program.
type column struct {
	rows []int32
	sign float64
}

// spread is the linear program for given windows.
type spread struct {
	g      *together
	lo, hi []int64 // window of each activity
	from   []int64 // pieces of time
	to     []int64
	cand   [][]int32

	m      int
	inv    [][]float64
	x      []float64
	basis  []int32 // column, or -1-j for the shortage of row j
	cols   []column
	inBase []bool
	dual   []float64
}

func (g *together) spread(lo, hi []int64) *spread {
	s := &spread{g: g, lo: lo, hi: hi}
	var cuts []int64
	cuts = append(append(cuts, lo...), hi...)
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	for k := 0; k+1 < len(cuts); k++ {
		var in []int32
		for i := range lo {
			if lo[i] <= cuts[k] && hi[i] >= cuts[k+1] {
				in = append(in, int32(i))
			}
		}
		if len(in) > 0 {
			s.from, s.to, s.cand = append(s.from, cuts[k]), append(s.to, cuts[k+1]), append(s.cand, in)
		}
	}
	n := len(lo)
	s.m = n + len(s.from)
	s.inv = make([][]float64, s.m)
	for r := range s.inv {
		s.inv[r] = make([]float64, s.m)
		s.inv[r][r] = 1
		if r < n {
			s.x = append(s.x, float64(g.work[r]))
			s.basis = append(s.basis, int32(-1-r))
			s.add(column{[]int32{int32(r)}, -1}) // more than the work
		}
	}
	for t := range s.from {
		s.x = append(s.x, float64(s.to[t]-s.from[t]))
		s.basis = append(s.basis, int32(len(s.cols)))
		s.add(column{[]int32{int32(n + t)}, 1}) // idle
		s.inBase[len(s.inBase)-1] = true
	}
	s.dual = make([]float64, s.m)
	return s
}

func (s *spread) add(c column) {
	s.cols = append(s.cols, c)
	s.inBase = append(s.inBase, false)
}

func (s *spread) prices() (short float64) {
	for j := range s.dual {
		s.dual[j] = 0
	}
	for r, b := range s.basis {
		if b < 0 {
			short += s.x[r]
			for j, v := range s.inv[r] {
				s.dual[j] += v
			}
		}
	}
	return short
}

func (s *spread) gain(c *column) float64 {
	v := 0.0
	for _, r := range c.rows {
		v += s.dual[r]
	}
	return v * c.sign
}

// enter brings a column into the basis.
func (s *spread) enter(k int32) bool {
	c := &s.cols[k]
	d := make([]float64, s.m)
	for r := range d {
		row := s.inv[r]
		v := 0.0
		for _, q := range c.rows {
			v += row[q]
		}
		d[r] = v * c.sign
	}
	out, best := -1, 0.0
	for r, v := range d {
		if v < 1e-9 {
			continue
		}
		q := s.x[r] / v
		if out < 0 || q < best-1e-12 || (q < best+1e-12 && (s.basis[r] < 0 && s.basis[out] >= 0 || (s.basis[r] < 0) == (s.basis[out] < 0) && v > d[out])) {
			out, best = r, q
		}
	}
	if out < 0 {
		return false
	}
	if b := s.basis[out]; b >= 0 {
		s.inBase[b] = false
	}
	s.basis[out] = k
	s.inBase[k] = true
	f := 1 / d[out]
	row := s.inv[out]
	for j := range row {
		row[j] *= f
	}
	for r, v := range d {
		if r == out || v == 0 {
			continue
		}
		to := s.inv[r]
		for j, w := range row {
			if w != 0 {
				to[j] -= v * w
			}
		}
		s.x[r] -= v * best
		if s.x[r] < 0 {
			s.x[r] = 0
		}
	}
	s.x[out] = best
	return true
}

const weightUnit = 1_000_000

// refute looks for weights that show that the windows leave no schedule. It
// gives up when the budget is spent.
func (s *spread) refute(ctx context.Context, budget int64) (weights []int64, ok bool) {
	g := s.g
	n := len(s.lo)
	work := int64(0)
	defer func() { g.spent += work }()
	for work < budget && ctx.Err() == nil {
		short := s.prices()
		work += int64(s.m*s.m) / 400
		if short < 1e-7 {
			return nil, false
		}
		// a known column
		pick, most := int32(-1), 1e-7
		for k := range s.cols {
			if !s.inBase[k] {
				if v := s.gain(&s.cols[k]); v > most {
					pick, most = int32(k), v
				}
			}
		}
		work += int64(len(s.cols)) / 100
		if pick < 0 {
			// new ones
			sum := int64(0)
			for i := 0; i < n; i++ {
				g.w[i] = max(0, int64(s.dual[i]*weightUnit+0.5))
				sum += g.w[i] * g.work[i]
			}
			g.nodes, g.over = 0, false
			added := false
			for t := range s.from {
				y := max(0, int64(-s.dual[n+t]*weightUnit)+1)
				v := g.heaviest(s.cand[t], y)
				sum -= v * (s.to[t] - s.from[t])
				if v > y+weightUnit/100_000 {
					rows := append([]int32(nil), g.bestSet...)
					rows = append(rows, int32(n+t))
					s.add(column{rows, 1})
					added = true
				}
			}
			work += g.nodes / 20
			if g.over {
				return nil, false
			}
			if sum > 0 {
				return slices.Clone(g.w), true
			}
			if !added {
				return nil, false
			}
			continue
		}
		if !s.enter(pick) {
			return nil, false
		}
		work += int64(s.m*s.m) / 400
	}
	return nil, false
}

// whole is the linear program without windows: one piece of time.
func (g *together) whole(length int64) *spread {
	lo, hi := make([]int64, len(g.acts)), make([]int64, len(g.acts))
	for i := range hi {
		hi[i] = length
	}
	return g.spread(lo, hi)
}
