package schedule

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// opinions counts what the library was asked and what it left open.
type opinions struct{ asked, open, infeasible, networks int }

func (c *opinions) require(t *testing.T, o *oracle, vals []int64, want bool, format string, args ...any) {
	yes, answered := o.solvable(vals)
	c.asked++
	if !answered {
		c.open++
		return
	}
	require.Equal(t, want, yes, fmt.Sprintf(format, args...))
}

func (c *opinions) report(t *testing.T) {
	t.Logf("%d problems, %d of them infeasible; %d questions, %d left open by the library", c.networks, c.infeasible, c.asked, c.open)
	require.LessOrEqual(t, c.open*50, c.asked, "too many questions left open")
}

// TestSecondOpinion solves random small shop jobs, in slots of a quarter of an
// hour, again with a general-purpose pseudo-boolean solver: a schedule with the
// values found exists, and at no level a better one.
func TestSecondOpinion(t *testing.T) {
	count := 352
	if testing.Short() {
		count = 30
	}
	var c opinions
	for k := 0; k < count; k++ {
		rng := rand.New(rand.NewPCG(uint64(k), 7))
		c.problem(t, k, genShop(rng, shopShape{steps: 3 + rng.IntN(8), tick: 15, days: 4 + rng.IntN(6), jobs: 1 + rng.IntN(2), due: true, most: true, setups: rng.IntN(3) > 0, coldNights: rng.IntN(2) == 0}))
	}
	c.report(t)
	if !testing.Short() {
		require.GreaterOrEqual(t, c.networks-c.infeasible, 300, "too few networks with a schedule")
	}
}

var (
	oddFirst = flag.Int("odd-first", 0, "first random problem of TestSecondOpinionOdd")
	oddCount = flag.Int("odd-count", 1000, "number of random problems of TestSecondOpinionOdd")
)

// TestSecondOpinionOdd does the same for tiny problems that mix every part of
// the model.
func TestSecondOpinionOdd(t *testing.T) {
	var c opinions
	for k := *oddFirst; k < *oddFirst+*oddCount; k++ {
		c.problem(t, k, genOdd(rand.New(rand.NewPCG(uint64(k), 11))))
	}
	c.report(t)
}

// problem holds the engine against the library on one problem.
func (c *opinions) problem(t *testing.T, k int, p *Problem) {
	c.networks++
	require.NoError(t, p.Validate(), "network %d", k)
	r, err := Solve(context.Background(), p, Options{})
	o := newOracle(p)
	var no *InfeasibleError
	if errors.As(err, &no) {
		c.infeasible++
		c.require(t, o, nil, false, "network %d: %v", k, err)
		return
	}
	require.NoError(t, err, "network %d", k)
	require.NoError(t, Check(p, r.Start), "network %d", k)
	var vals []int64
	for l := 0; l < NumLevels; l++ {
		lv := r.Levels[l]
		require.True(t, lv.Proved, "network %d: %s not proved", k, lv.Name)
		c.require(t, o, append(slices.Clone(vals), lv.Value-1), false, "network %d: %s below %d", k, lv.Name, lv.Value)
		vals = append(vals, lv.Value)
	}
	c.require(t, o, vals, true, "network %d: values %v", k, vals)
}
