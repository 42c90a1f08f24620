package schedule

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// replayed solves a problem with a proof log and replays the log.
func replayed(t *testing.T, name string, p *Problem, opt Options) (bytes.Buffer, *Result) {
	var log bytes.Buffer
	opt.Proof = &log
	r, err := Solve(context.Background(), p, opt)
	var no *InfeasibleError
	if errors.As(err, &no) {
		require.NoError(t, CheckProof(p, nil, bytes.NewReader(log.Bytes())), "%s: %v", name, err)
		return log, nil
	}
	require.NoError(t, err, name)
	require.NoError(t, CheckProof(p, r, bytes.NewReader(log.Bytes())), name)
	return log, r
}

func TestProofReplays(t *testing.T) {
	for k := 0; k < *oddCount/4; k++ {
		replayed(t, fmt.Sprint("odd ", k), genOdd(rand.New(rand.NewPCG(uint64(k), 11))), Options{})
	}
	for k := 0; k < 12; k++ {
		replayed(t, fmt.Sprint("shop ", k), bigShop(k, 12), Options{Work: 300_000})
	}
	for _, s := range []string{"j30", "j20max", "ubo20"} {
		refs := references(t, s)
		for k := 3; k < len(refs); k += 40 {
			replayed(t, s+" "+refs[k].name, readPublished(t, refs[k]), Options{Levels: 2, Work: 300_000})
		}
	}
}

// TestProofWithSurrogates replays proofs of published instances that need the
// energy of several resources at once, and refuses one with a surrogate that
// holds less than it does.
func TestProofWithSurrogates(t *testing.T) {
	for _, r := range references(t, "j30") {
		if r.name != "j3013_7" && r.name != "j3029_9" {
			continue
		}
		p := readPublished(t, r)
		log, res := replayed(t, r.name, p, Options{Levels: 2, Work: 1_500_000})
		require.Equal(t, r.ub, res.Levels[Finish].Value)
		lines := strings.Split(log.String(), "\n")
		energies, at := 0, -1
		for k, l := range lines {
			if strings.HasPrefix(l, "w ") {
				at = k
			}
			if strings.HasPrefix(l, "l ") && strings.Contains(l, " energy ") {
				energies++
			}
		}
		require.Positive(t, energies)
		require.Positive(t, at)
		f := strings.Fields(lines[at])
		cap, err := strconv.Atoi(f[2])
		require.NoError(t, err)
		f[2] = fmt.Sprint(cap - 1)
		lines[at] = strings.Join(f, " ")
		require.ErrorContains(t, CheckProof(p, res, strings.NewReader(strings.Join(lines, "\n"))), "surrogate")
	}
}

// TestProofRefused spoils logs and claims: the replay must notice.
func TestProofRefused(t *testing.T) {
	p := bigShop(3, 12)
	log, r := replayed(t, "shop", p, Options{})
	require.NotNil(t, r)
	require.True(t, r.Levels[Finish].Proved)
	claim := *r
	claim.Levels[Finish].Value++
	claim.Levels[Finish].Bound++
	require.Error(t, CheckProof(p, &claim, bytes.NewReader(log.Bytes())), "a bound that is not proved")
	require.Error(t, CheckProof(p, nil, bytes.NewReader(log.Bytes())), "no proof of infeasibility")
	lines := strings.Split(log.String(), "\n")
	refused := 0
	for k, l := range lines {
		if !strings.HasPrefix(l, "l ") || !strings.Contains(l, ">") || k%7 != 0 {
			continue
		}
		// ask more of the conclusion than the problem gives
		i := strings.LastIndex(l, ">")
		if !strings.Contains(l[i:], " ") && strings.Contains(l, " arc ") {
			bad := append([]string(nil), lines...)
			bad[k] = l[:i+1] + "9999999"
			require.Error(t, CheckProof(p, r, strings.NewReader(strings.Join(bad, "\n"))))
			if refused++; refused > 20 {
				break
			}
		}
	}
	require.Positive(t, refused)
}

// TestEdgeWantsOneOfAKind forges an edge-finding lemma: two steps cannot share
// ten ticks where there is one clamp, and can where there are two.
func TestEdgeWantsOneOfAKind(t *testing.T) {
	step := Activity{Work: 8, Calendar: Always, Latest: 10, Needs: []Need{{0, 1}}}
	p := &Problem{Horizon: 20, Resources: []Resource{{"clamp", 1}}, Activities: []Activity{step, step}}
	const forged = "l 1 edge 0 0 : =\nz 1\n"
	require.NoError(t, CheckProof(p, nil, strings.NewReader(forged)))
	p.Resources[0].Capacity = 2
	require.Error(t, CheckProof(p, nil, strings.NewReader(forged)))
}

func FuzzProof(f *testing.F) {
	p := bench()
	var log bytes.Buffer
	_, err := Solve(context.Background(), p, Options{Proof: &log})
	require.NoError(f, err)
	f.Add(log.String())
	f.Add("x 3 finish\nl 1 arc 2 3 : 4>5 = 6>9\nr 1\n")
	f.Add("c 1 L2 : 1\nz 1\na 3 4")
	f.Fuzz(func(t *testing.T, s string) {
		// never a panic, and never a proof that the bench has no plan
		require.Error(t, CheckProof(bench(), nil, strings.NewReader(s)))
	})
}
