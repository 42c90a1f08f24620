package layout

import (
	"context"
	"math/rand/v2"
	"testing"
)

// onceLow is the least number of sheets that patterns of single copies allow,
// with at first so many copies of a pattern held to fit.
func onceLow(t *testing.T, p *Problem, exact int) (least, cuts int) {
	t.Helper()
	o := prepare(p).newOnce(func(int64) bool { return false })
	if o == nil {
		t.Fatal("a plain list is not taken on")
	}
	o.exact = exact
	q := o.newProof(nil)
	q.from = 0 // cuts at once
	k := 0
	for {
		n := q.exceed(k)
		if n == nil {
			cuts += len(q.cuts)
			return k, cuts
		}
		k = int((n.want + n.have[0] - 1) / n.have[0])
	}
}

// Patterns of single copies never ask for more sheets than a general-purpose
// pseudo-boolean solver finds enough (gophersat, see cutsModel), and seldom for
// fewer.
func TestOnceAgainstSecondOpinion(t *testing.T) {
	several, tight, cuts := 0, 0, 0
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 11))
		p := &Problem{Kerf: int64(r.IntN(2)), Stocks: []Stock{{X: int64(4 + r.IntN(3)), Y: int64(3 + r.IntN(3)), Price: 1, Qty: -1}}}
		for n := 3 + r.IntN(4); n > 0; {
			k := min(n, 1+r.IntN(2))
			n -= k
			p.Parts = append(p.Parts, Part{X: int64(1 + r.IntN(4)), Y: int64(1 + r.IntN(3)), Qty: k, Turn: r.IntN(2) == 0})
		}
		want := cutsModel(p).least()
		low, n := onceLow(t, p, 1+r.IntN(4))
		cuts += n
		if low > want {
			t.Fatalf("list %d: bound %d, by the model %d sheets do: %+v", seed, low, want, p)
		}
		if want > 1 {
			several++
			if low == want {
				tight++
			}
		}
	}
	if several < 30 || tight < several*9/10 {
		t.Errorf("of %d lists that take several sheets the bound is reached by %d", several, tight)
	}
	if cuts == 0 {
		t.Error("no list needs a cut")
	}
}

// The same for longer lists against the trial of everything, which shares
// neither the patterns nor the linear program.
func TestOnceAgainstEverything(t *testing.T) {
	several, tight, cuts := 0, 0, 0
	for seed := range uint64(80) {
		r := rand.New(rand.NewPCG(seed, 12))
		p := &Problem{Kerf: r.Int64N(3), Stocks: []Stock{{X: 16 + r.Int64N(12), Y: 13 + r.Int64N(10), Price: 1, Qty: -1}}}
		for n := 4 + r.IntN(3); n > 0; n-- {
			p.Parts = append(p.Parts, Part{X: 3 + r.Int64N(13), Y: 3 + r.Int64N(10), Qty: 1 + r.IntN(2), Turn: r.IntN(2) == 0})
		}
		_, want := everything(t, seed, p)
		if want == nil {
			continue
		}
		low, n := onceLow(t, p, 1+r.IntN(4))
		cuts += n
		if low > len(want) {
			t.Fatalf("list %d: bound %d, but %d sheets do: %+v", seed, low, len(want), p)
		}
		if len(want) > 1 {
			several++
			if low == len(want) {
				tight++
			}
		}
	}
	if several < 30 || tight < several*8/10 {
		t.Errorf("of %d lists that take several sheets the bound is reached by %d", several, tight)
	}
	if cuts == 0 {
		t.Error("no list needs a cut")
	}
}

// Instances of the class set (Berkey and Wang 1987, Martello and Vigo 1998) whose
// patterns leave room for one sheet fewer than the best known layout has, until
// a pattern holds every part once only.
func TestOncePublished(t *testing.T) {
	for _, ref := range readReference(t, "2d-class.csv") {
		switch ref["instance"] {
		case "CLASS05_080_03", "CLASS07_040_07", "CLASS08_040_01", "CLASS09_100_09":
		default:
			continue
		}
		p := classProblem(t, *cuttingDir+"/2d-class/"+ref["instance"]+".txt", false)
		r, err := Solve(context.Background(), p, Options{Work: 1_000_000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Fatal(err)
		}
		if ub := atoi(t, ref["og_ub"]); r.Used.Value != ub || !r.Used.Proved {
			t.Errorf("%s: %d sheets, bound %d, known layout %d", ref["instance"], r.Used.Value, r.Used.Bound, ub)
		}
	}
}
