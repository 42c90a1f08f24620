package layout

import (
	"math/rand/v2"
	"testing"
)

// Keeping together and apart tells what the trial of everything tells, which
// shares neither the patterns nor the tree, and its layouts pass the checker.
func TestBranchAgainstEverything(t *testing.T) {
	never := func(int64) bool { return false }
	several := 0
	for seed := range uint64(80) {
		r := rand.New(rand.NewPCG(seed, 13))
		p := &Problem{Kerf: r.Int64N(3), Stocks: []Stock{{X: 16 + r.Int64N(12), Y: 13 + r.Int64N(10), Price: 1, Qty: -1}}}
		for n := 4 + r.IntN(3); n > 0; n-- {
			p.Parts = append(p.Parts, Part{X: 3 + r.Int64N(13), Y: 3 + r.Int64N(10), Qty: 1 + r.IntN(2), Turn: r.IntN(2) == 0})
		}
		in, want := everything(t, seed, p)
		if want == nil {
			continue
		}
		o := in.newOnce(never)
		o.exact = onceMost
		known := &relaxation{in: in}
		if seed%2 == 0 {
			known.addBins(want) // sheets that the tree has not looked at
		}
		q := o.newProof(known.pool)
		// Patterns alone are not asked first: the tree must find out by itself.
		if _, told := q.decide(len(want) - 1); len(want) > 1 && told != refuted {
			t.Fatalf("list %d: %d sheets are the fewest, one fewer is not refuted (%d): %+v", seed, len(want), told, p)
		}
		sheets, told := q.decide(len(want))
		if told != reached || len(sheets) > len(want) {
			t.Fatalf("list %d: %d sheets do, told %d with %d: %+v", seed, len(want), told, len(sheets), p)
		}
		passes(t, seed, in, p, o.e.bins(sheets))
		if len(want) > 1 {
			several++
		}
	}
	if several < 30 {
		t.Errorf("only %d problems took several sheets", several)
	}
}

// everything solves a list by the trial of everything; nil where it is too large
// for that, or does not fit at all.
func everything(t *testing.T, seed uint64, p *Problem) (*inst, []*bin) {
	t.Helper()
	in := prepare(p)
	e := in.newExact()
	if e == nil || len(in.lost) > 0 {
		return in, nil
	}
	want, ok := e.solve(func(int64) bool { return false })
	if !ok {
		t.Fatalf("list %d: the trial of everything did not end", seed)
	}
	return in, want
}

// passes holds a layout against the checker.
func passes(t *testing.T, seed uint64, in *inst, p *Problem, bins []*bin) {
	t.Helper()
	res := in.emit(bins, nil)
	res.Offcut.Bound = 1 << 40 // any: it is not what is tried here
	if err := Check(p, res); err != nil {
		t.Fatalf("list %d: %v", seed, err)
	}
}
