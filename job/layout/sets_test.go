package layout

import (
	"context"
	"math/rand/v2"
	"testing"
)

// The listing of all that a sheet can hold and the trial of everything are two
// roads to the same number of sheets, and both layouts pass the checker.
func TestListedAgainstEverything(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	never := func(int64) bool { return false }
	several := 0
	for round := range 80 {
		p := &Problem{Kerf: r.Int64N(3), Stocks: []Stock{{X: 16 + r.Int64N(12), Y: 13 + r.Int64N(10), Price: 1, Qty: -1}}}
		for n := 3 + r.IntN(3); n > 0; n-- {
			p.Parts = append(p.Parts, Part{X: 3 + r.Int64N(15), Y: 3 + r.Int64N(12), Qty: 1 + r.IntN(2), Turn: r.IntN(2) == 0})
		}
		in := prepare(p)
		e := in.newExact()
		if e == nil {
			continue
		}
		want, ok := e.solve(never)
		if !ok {
			t.Fatalf("round %d: the trial of everything did not end", round)
		}
		s := in.newSets(never)
		if s == nil || !s.list() {
			t.Fatalf("round %d: the sets could not be listed", round)
		}
		full := s.full()
		n := s.weights(full, nil)
		low := int((n.want + n.have[0] - 1) / n.have[0])
		if low > len(want) {
			t.Fatalf("round %d: bound %d, but %d sheets do", round, low, len(want))
		}
		k := low
		var found []set
		for ; found == nil; k++ {
			if found, ok = s.cover(full, k, n); !ok {
				t.Fatalf("round %d: the cover did not end", round)
			}
		}
		if k-1 != len(want) || len(found) > len(want) {
			t.Fatalf("round %d: %d sheets by sets, %d by trial of everything", round, len(found), len(want))
		}
		res := in.emit(s.bins(found), nil)
		res.Offcut.Bound = 1 << 40 // any: it is not what is tried here
		if err := Check(p, res); err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if len(want) > 1 {
			several++
			// With no weights to help it, the cover finds out by trying.
			clear(s.value)
			if found, ok := s.cover(full, len(want)-1, &need{have: []int64{0}}); !ok || found != nil {
				t.Fatalf("round %d: a cover with a sheet fewer than is possible", round)
			}
		}
	}
	if several < 30 {
		t.Errorf("only %d problems took several sheets", several)
	}
}

// What Solve proves by listing is proved: instances of the class set (Berkey
// and Wang 1987, Martello and Vigo 1998) whose bound by patterns is one below
// the best known layout.
func TestListedPublished(t *testing.T) {
	for _, ref := range readReference(t, "2d-class.csv") {
		switch ref["instance"] {
		case "CLASS01_020_03", "CLASS03_020_01", "CLASS08_020_09":
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
