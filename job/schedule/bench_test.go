package schedule

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func benchSolve(b *testing.B, p *Problem, opt Options) {
	was := debugChecks
	debugChecks = false
	defer func() { debugChecks = was }()
	proved, gap := 0, 0.0
	for b.Loop() {
		r, err := Solve(context.Background(), p, opt)
		if err != nil {
			b.Fatal(err)
		}
		f := r.Levels[Finish]
		gap = 100 * float64(f.Value-f.Bound) / float64(max(f.Value, 1))
		for proved = 0; proved < NumLevels && r.Levels[proved].Proved; proved++ {
		}
	}
	b.ReportMetric(float64(proved), "levels-proved")
	b.ReportMetric(gap, "finish-gap-%")
}

// BenchmarkGrowth shows how the time to a proved finish grows with the number
// of steps of one shop job with hours, clamps, cold nights and set-ups. The
// budget is 4 million work units (about 2 s).
func BenchmarkGrowth(b *testing.B) {
	for _, n := range []int{10, 20, 40, 80, 160, 320} {
		b.Run(fmt.Sprintf("steps=%d", n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(uint64(n), 42))
			p := genShop(rng, shopShape{steps: n, tick: 1, days: 28 + n*3, jobs: 1 + n/40, most: true, setups: true, coldNights: true})
			benchSolve(b, p, Options{Levels: Finish + 1, Work: 4_000_000})
		})
	}
}

// BenchmarkFirstPlan is the time to a first plan of twelve jobs with 200 steps.
func BenchmarkFirstPlan(b *testing.B) {
	p := manyJobs(0)
	for b.Loop() {
		ctx, cancel := context.WithCancel(context.Background())
		_, err := Solve(ctx, p, Options{Progress: func(Progress) { cancel() }})
		require.NoError(b, err)
	}
}

// BenchmarkPublished proves a middling instance of each kind.
func BenchmarkPublished(b *testing.B) {
	for _, s := range []struct {
		set string
		k   int
	}{{"j30", 60}, {"j60", 90}, {"j20max", 20}, {"ubo20", 7}} {
		refs := references(b, s.set)
		b.Run(s.set+"/"+refs[s.k].name, func(b *testing.B) {
			p := readPublished(b, refs[s.k])
			if _, err := Solve(context.Background(), p, Options{Levels: 2}); err != nil {
				b.Skip(err)
			}
			benchSolve(b, p, Options{Levels: 2})
		})
	}
}

// BenchmarkCheck is the independent checker on 200 steps.
func BenchmarkCheck(b *testing.B) {
	p := manyJobs(0)
	r, err := Solve(context.Background(), p, Options{Work: 50_000, Levels: 1})
	require.NoError(b, err)
	for b.Loop() {
		require.NoError(b, Check(p, r.Start))
	}
}
