package schedule

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Every schedule returned passes the checker, values and bounds agree with it,
// and the same problem, seed and budget give the same answer, with one worker
// and with two.
func TestSolveProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64Range(0, 1<<40).Draw(t, "problem")
		rng := rand.New(rand.NewPCG(seed, 5))
		p := genOdd(rng)
		if rapid.Bool().Draw(t, "shop") {
			p = genShop(rng, shopShape{steps: 3 + rng.IntN(12), tick: 5, days: 20, jobs: 1 + rng.IntN(3), due: true, most: true, setups: true, coldNights: true})
		}
		opt := Options{Work: rapid.Int64Range(1000, 40_000).Draw(t, "work"), Seed: rapid.Int64Range(0, 3).Draw(t, "seed"),
			Workers: rapid.IntRange(1, 2).Draw(t, "workers")}
		r, err := Solve(context.Background(), p, opt)
		again, err2 := Solve(context.Background(), p, opt)
		if err != nil {
			require.EqualError(t, err2, err.Error())
			return
		}
		require.Equal(t, r, again)
		out, err := Evaluate(p, r.Start)
		require.NoError(t, err)
		require.Equal(t, out.End, r.End)
		require.Equal(t, out.Changes, r.Changes)
		above := true
		for k, l := range r.Levels {
			require.Equal(t, out.Values[k], l.Value)
			require.LessOrEqual(t, l.Bound, l.Value)
			if l.Proved {
				require.Equal(t, l.Bound, l.Value)
				require.True(t, above)
			}
			above = l.Proved
		}
	})
}

func TestStops(t *testing.T) {
	p := manyJobs(0)
	ctx, cancel := context.WithCancel(context.Background())
	begin := time.Now()
	calls := 0
	r, err := Solve(ctx, p, Options{Work: 1 << 50, Workers: 2, Progress: func(Progress) {
		if calls++; calls == 2 {
			cancel()
		}
	}})
	require.NoError(t, err)
	require.NoError(t, Check(p, r.Start))
	require.Less(t, time.Since(begin), time.Minute)
	gone, cancel2 := context.WithCancel(context.Background())
	cancel2()
	_, err = Solve(gone, p, Options{})
	var no *ErrBudget
	require.ErrorAs(t, err, &no)
	require.ErrorIs(t, err, context.Canceled)
}

func TestHint(t *testing.T) {
	p := bench()
	r, err := Solve(context.Background(), p, Options{})
	require.NoError(t, err)
	again, err := Solve(context.Background(), p, Options{Hint: r.Start, Work: 1})
	require.NoError(t, err)
	require.Equal(t, r.Start, again.Start)
	_, err = Solve(context.Background(), p, Options{Hint: []int64{0, 0, 0}})
	require.NoError(t, err, "a hint that is not feasible is no harm")
}

func TestInfeasible(t *testing.T) {
	hands := []Need{{0, 1}}
	for name, c := range map[string]struct {
		edit func(p *Problem)
		acts []int
		lags []int
		res  []int
		say  string
	}{
		"circle": {
			edit: func(p *Problem) {
				p.Activities = append(p.Activities, Activity{Name: "sand", Work: 10, Needs: hands})
				p.Lags = append(p.Lags, Lag{From: 2, FromEnd: true, To: 3}, Lag{From: 3, FromEnd: true, To: 1})
			},
			acts: []int{1, 2, 3}, lags: []int{1, 2, 3}, say: "circle",
		},
		"longer than any session": {
			edit: func(p *Problem) { p.Activities[1].Work = 121 },
			acts: []int{1}, say: "glue takes 121 ticks, but the longest window has 120",
		},
		"a most lag that closes overnight": {
			edit: func(p *Problem) { p.Lags[1].Min, p.Lags[1].HasMax, p.Lags[1].Max = 100, true, 200 },
			acts: []int{1, 2}, lags: []int{1},
		},
		"more clamps than there are": {
			edit: func(p *Problem) { p.Activities[1].Holds[0].Qty = 5 },
			acts: []int{1}, res: []int{1}, say: "clamps",
		},
		"two that must be at once": {
			edit: func(p *Problem) {
				p.Activities = append(p.Activities, Activity{Name: "stir", Work: 20, Needs: hands})
				p.Lags = append(p.Lags, Lag{From: 1, To: 3, HasMax: true, Max: 10})
			},
			acts: []int{1, 3}, lags: []int{2}, res: []int{0},
		},
		"too late already": {
			edit: func(p *Problem) { p.Activities[2].Latest = 2000 },
			acts: []int{0, 1, 2}, lags: []int{0, 1},
		},
		"no second job fits": {
			edit: func(p *Problem) {
				p.Horizon = 1200
				p.Lags, p.Activities[1].Holds = nil, nil
				p.Activities[0].Work, p.Activities[1].Work, p.Activities[2].Work = 50, 50, 50
				p.Activities[0].States = nil
			},
			acts: []int{0, 1, 2}, res: []int{0},
		},
	} {
		p := bench()
		c.edit(p)
		_, err := Solve(context.Background(), p, Options{})
		var no *InfeasibleError
		require.ErrorAs(t, err, &no, name)
		if name == "circle" {
			require.True(t, no.Cycle, name)
		}
		if name != "too late already" {
			require.ElementsMatch(t, c.acts, no.Activities, "%s: %v", name, err)
		} else {
			require.Subset(t, c.acts, no.Activities, "%s: %v", name, err)
		}
		require.Subset(t, no.Lags, c.lags, "%s: %v", name, err)
		require.Subset(t, no.Resources, c.res, "%s: %v", name, err)
		require.Contains(t, err.Error(), c.say, name)
	}
}

func TestBadProblems(t *testing.T) {
	for name, edit := range map[string]func(p *Problem){
		"horizon":        func(p *Problem) { p.Horizon = 0 },
		"capacity":       func(p *Problem) { p.Resources[0].Capacity = -1 },
		"windows":        func(p *Problem) { p.Calendars[0].Windows[1].Open = 1100 },
		"calendar":       func(p *Problem) { p.Activities[0].Calendar = 1 },
		"need":           func(p *Problem) { p.Activities[0].Needs[0].Resource = 2 },
		"hold":           func(p *Problem) { p.Activities[1].Holds[0].Until = 9 },
		"lag":            func(p *Problem) { p.Lags[0].To = 3 },
		"work":           func(p *Problem) { p.Activities[0].Work = -1 },
		"state":          func(p *Problem) { p.Activities[0].States[0].State = 2 },
		"state, no need": func(p *Problem) { p.Activities[0].Needs = nil },
		"change":         func(p *Problem) { p.Setups[0].Change[0][0] = 1 },
		"setup":          func(p *Problem) { p.Setups[0].Resource = 1 },
		"member":         func(p *Problem) { p.Projects = []Project{{Members: []int{3}}} },
	} {
		p := bench()
		edit(p)
		_, err := Solve(context.Background(), p, Options{})
		var bad *ProblemError
		require.True(t, errors.As(err, &bad), name)
	}
	none, err := Solve(context.Background(), &Problem{Horizon: 1}, Options{})
	require.NoError(t, err)
	require.True(t, none.Proved(NumLevels))
}

func TestCurve(t *testing.T) {
	c, err := NewCurve([]Point{{10, 20}, {20, 20}, {30, 45}})
	require.NoError(t, err)
	for at, ready := range map[int64]int64{-5: 20, 10: 20, 15: 20, 20: 20, 25: 32, 30: 45, 40: 55} {
		require.Equal(t, ready, c.At(at), at)
	}
	rapid.Check(t, func(t *rapid.T) {
		var ps []Point
		x, y := int64(0), int64(0)
		for i := rapid.IntRange(1, 8).Draw(t, "n"); i > 0; i-- {
			x += rapid.Int64Range(1, 50).Draw(t, "dx")
			y = max(x, y+rapid.Int64Range(0, 90).Draw(t, "dy"))
			ps = append(ps, Point{x, y})
		}
		c, err := NewCurve(ps)
		require.NoError(t, err)
		table := make([]int64, x+20)
		for i := range table {
			table[i] = c.At(int64(i))
		}
		d, err := NewTableCurve(0, table)
		require.NoError(t, err)
		at := rapid.Int64Range(0, x+60).Draw(t, "at")
		require.Equal(t, c.At(at), d.At(at))
		require.GreaterOrEqual(t, c.At(at+1), c.At(at))
		v := rapid.Int64Range(ps[0].Ready, y+50).Draw(t, "v")
		last, ok := c.Inverse(v)
		require.True(t, ok)
		require.LessOrEqual(t, c.At(last), v)
		require.Greater(t, c.At(last+1), v)
		first := c.First(v)
		require.GreaterOrEqual(t, c.At(first), v)
		if first > -maxTick {
			require.Less(t, c.At(first-1), v)
		}
	})
	_, err = NewCurve([]Point{{10, 20}, {20, 19}})
	require.Error(t, err)
	_, err = NewTableCurve(0, []int64{5, 4})
	require.Error(t, err)
}
