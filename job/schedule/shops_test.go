package schedule

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	shopCount = flag.Int("shops", 15, "number of generated shop jobs of TestShops")
	shopFirst = flag.Int("shops-first", 0, "first of them")
	shopSteps = flag.Int("shop-steps", 0, "steps a job (0: 10 to 40)")
	shopLimit = flag.Duration("shop-limit", 0, "time limit a job (0: a fixed work budget)")
	shopLevel = flag.Int("shop-levels", NumLevels, "levels of the objective to minimise")
)

// bigShop is the k-th generated shop job: hours, clamps, cold nights, set-ups.
func bigShop(k, steps int) *Problem {
	rng := rand.New(rand.NewPCG(uint64(k), 42))
	if steps == 0 {
		steps = 10 + rng.IntN(31)
	}
	return genShop(rng, shopShape{steps: steps, tick: 1, days: 28 + steps*3, jobs: 1, due: k%3 == 0, most: true, setups: true, coldNights: true})
}

// TestShops solves generated shop jobs of 10 to 40 steps. A whole sweep:
//
//	go test ./job/schedule -run Shops -shops 500 -shop-limit 10s -timeout 0 -v
func TestShops(t *testing.T) {
	fullSpeed(t)
	type row struct {
		k              int
		steps          int
		first          time.Duration // to a proved finish
		whole          time.Duration
		finish         bool
		levels, infeas int
	}
	var rows []row
	for k := *shopFirst; k < *shopFirst+*shopCount; k++ {
		p := bigShop(k, *shopSteps)
		ctx, cancel := context.Background(), func() {}
		opt := Options{Levels: *shopLevel, Work: 500_000, Workers: *rcpspWorker}
		if *shopLimit > 0 {
			ctx, cancel = context.WithTimeout(ctx, *shopLimit)
			opt.Work = 1 << 60
		}
		r := row{k: k, steps: len(p.Activities)}
		begin := time.Now()
		opt.Progress = func(pr Progress) {
			if pr.Level > Finish && !r.finish {
				r.first, r.finish = time.Since(begin), true
			}
		}
		res, err := Solve(ctx, p, opt)
		r.whole = time.Since(begin)
		cancel()
		var no *InfeasibleError
		if errors.As(err, &no) {
			r.infeas = 1
			rows = append(rows, r)
			continue
		}
		require.NoError(t, err, "shop %d", k)
		require.NoError(t, Check(p, res.Start), "shop %d", k)
		if res.Levels[Finish].Proved && !r.finish {
			r.first, r.finish = r.whole, true
		}
		for r.levels < NumLevels && res.Levels[r.levels].Proved {
			r.levels++
		}
		if *rcpspList {
			fmt.Printf("shop %d: %d steps, finish in %.3fs, %d levels in %.3fs, %v\n", k, r.steps, r.first.Seconds(), r.levels, r.whole.Seconds(), res.Levels)
		}
		rows = append(rows, r)
	}
	infeasible, finish1, finish10, all1, all10 := 0, 0, 0, 0, 0
	by := [NumLevels + 1]int{}
	var whole []time.Duration
	for _, r := range rows {
		infeasible += r.infeas
		if r.infeas > 0 {
			continue
		}
		by[r.levels]++
		whole = append(whole, r.whole)
		if r.finish && r.first <= time.Second {
			finish1++
		}
		if r.finish && r.first <= 10*time.Second {
			finish10++
		}
		if r.levels == NumLevels && r.whole <= time.Second {
			all1++
		}
		if r.levels == NumLevels && r.whole <= 10*time.Second {
			all10++
		}
	}
	sort.Slice(whole, func(a, b int) bool { return whole[a] < whole[b] })
	n := len(whole)
	require.Positive(t, n)
	t.Logf("%d jobs (%d infeasible): finish proved within 1 s %d, within 10 s %d; all levels proved within 1 s %d, within 10 s %d; by number of levels proved %v; median %.3fs, worst %.3fs",
		len(rows), infeasible, finish1, finish10, all1, all10, by, whole[n/2].Seconds(), whole[n-1].Seconds())
}

// manyJobs is one shop with twelve jobs and 200 steps.
func manyJobs(k int) *Problem {
	rng := rand.New(rand.NewPCG(uint64(k), 77))
	return genShop(rng, shopShape{steps: 200, tick: 1, days: 360, jobs: 12, due: k%2 == 1, most: true, setups: true, coldNights: true})
}

// TestTwelveJobs reports how soon a first plan is there and how near the bound
// it comes.
func TestTwelveJobs(t *testing.T) {
	fullSpeed(t)
	for k := 0; k < *manyCount; k++ {
		p := manyJobs(k)
		ctx, cancel := context.Background(), func() {}
		opt := Options{Work: *manyWork, Levels: 2, Workers: *rcpspWorker}
		if *shopLimit > 0 {
			ctx, cancel = context.WithTimeout(ctx, *shopLimit)
			opt.Work = 1 << 60
		}
		var first time.Duration
		begin := time.Now()
		opt.Progress = func(pr Progress) {
			if first == 0 {
				first = time.Since(begin)
			}
			if *rcpspList {
				fmt.Printf("  %.3fs level %d values %v bound %d\n", time.Since(begin).Seconds(), pr.Level, pr.Values, pr.Bound)
			}
		}
		r, err := Solve(ctx, p, opt)
		cancel()
		require.NoError(t, err)
		require.NoError(t, Check(p, r.Start))
		t.Logf("%d steps: first plan in %.3fs, after %.1fs %v", len(p.Activities), first.Seconds(), time.Since(begin).Seconds(), r.Levels)
	}
}

var (
	manyCount = flag.Int("many", 1, "number of shops of TestTwelveJobs")
	manyWork  = flag.Int64("many-work", 300_000, "work budget of each when there is no time limit")
)

// fullSpeed leaves out the engine's checks of itself where time is measured.
func fullSpeed(t *testing.T) {
	if *shopLimit > 0 {
		was := debugChecks
		debugChecks = false
		t.Cleanup(func() { debugChecks = was })
	}
}
