package schedule

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestHeaviestSet compares the heaviest set that can be under way at once, and
// the checker's word on it, with every set there is.
func TestHeaviestSet(t *testing.T) {
	for k := uint64(0); k < 60; k++ {
		rng := rand.New(rand.NewPCG(k, 5))
		p := &Problem{Horizon: 200, Resources: []Resource{{"one", 4 + rng.IntN(6)}, {"two", 4 + rng.IntN(6)}}}
		n := 5 + rng.IntN(7)
		for i := 0; i < n; i++ {
			a := Activity{Work: 1 + rng.Int64N(9), Calendar: Always}
			for r := range p.Resources {
				if q := rng.IntN(5); q > 0 {
					a.Needs = append(a.Needs, Need{r, q})
				}
			}
			p.Activities = append(p.Activities, a)
			if i > 0 && rng.IntN(3) == 0 {
				p.Lags = append(p.Lags, Lag{From: rng.IntN(i), FromEnd: true, To: i})
			}
		}
		m, err := compile(p)
		require.NoError(t, err)
		e, _, err := m.build()
		require.NoError(t, err)
		g := m.newTogether(e)
		if g == nil {
			continue
		}
		var all []int32
		var words []string
		for i := range g.acts {
			g.w[i] = 1 + rng.Int64N(30)
			all = append(all, int32(i))
			words = append(words, num(int64(g.acts[i])), num(g.w[i]))
		}
		c := newReplay(p)
		best := int64(0)
		for set := 1; set < 1<<n; set++ {
			sum, ok := int64(0), true
			use := make([]int, len(p.Resources))
			for i := 0; i < n && ok; i++ {
				if set>>i&1 == 0 {
					continue
				}
				sum += g.w[i]
				for _, nd := range p.Activities[i].Needs {
					use[nd.Resource] += nd.Qty
					ok = ok && use[nd.Resource] <= p.Resources[nd.Resource].Capacity
				}
				for j := 0; j < i; j++ {
					ok = ok && (set>>j&1 == 0 || c.path(j)[2*i] < 0)
				}
			}
			if ok {
				best = max(best, sum)
			}
		}
		require.Equal(t, best, g.heaviest(all, 0), "problem %d", k)
		require.Error(t, newReplay(p).surrogate(append([]string{"2", num(best - 1)}, words...)), "problem %d", k)
		require.NoError(t, newReplay(p).surrogate(append([]string{"2", num(best)}, words...)), "problem %d", k)
	}
}

// TestTurnsInProofs sees that the checker has met turns, and that it refuses
// them when the premises say less.
func TestTurnsInProofs(t *testing.T) {
	refused := 0
	for k := 0; k < 6 && refused == 0; k++ {
		p := bigShop(k, 20)
		log, r := replayed(t, "shop", p, Options{Work: 600_000})
		lines := strings.Split(log.String(), "\n")
		for k, l := range lines {
			i, j := strings.Index(l, " turns "), strings.Index(l, " =")
			if i < 0 || j < 0 {
				continue
			}
			bad := append([]string(nil), lines...)
			head, _, _ := strings.Cut(l[:j], ":")
			bad[k] = head + ":" + l[j:] // no premises at all
			if err := CheckProof(p, r, bytes.NewReader([]byte(strings.Join(bad, "\n")))); err != nil && strings.Contains(err.Error(), "turns") {
				refused++
				break
			}
		}
	}
	require.Positive(t, refused)
}

func num(v int64) string { return fmt.Sprint(v) }
