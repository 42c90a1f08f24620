package layout

import (
	"math/rand/v2"
	"testing"
)

// Where the table is of rounded lengths, the most that a bar can be worth is
// still what an exact table of all lengths says (the knapsack's recursion: R.
// Bellman, "Dynamic Programming", 1957), and so is every filling's worth.
func TestFillOfLongBars(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	for round := range 40 {
		const size = 400_000
		n := 20 + r.IntN(30)
		f := filler{size: size, short: size, sharp: true}
		values, most := make([]int64, n), make([]int, n)
		for i := range n {
			f.w = append(f.w, size/8+r.Int64N(size/4))
			values[i] = f.w[i]*dualScale/size + r.Int64N(dualScale/50)
			most[i] = 1 + r.IntN(2)
		}
		best := make([]int64, size+1)
		for i := range n {
			for range most[i] {
				for c := int64(size); c >= f.w[i]; c-- {
					best[c] = max(best[c], best[c-f.w[i]]+values[i])
				}
			}
		}
		found, top := f.fill(values, nil, most, dualScale/2, 30, 4_000_000)
		if f.scale == 1 {
			t.Fatal("the table is exact: nothing is tried here")
		}
		if top != best[size] {
			t.Errorf("round %d: top %d, not %d", round, top, best[size])
		}
		var had int64
		for i := range found {
			x := &found[i]
			had = max(had, x.value)
			var w int64
			for k, l := range x.rows {
				w += f.w[l] * int64(x.n[k])
				if int(x.n[k]) > most[l] {
					t.Errorf("round %d: %d of a length there are %d of", round, x.n[k], most[l])
				}
			}
			if w > size || x.worth(values) != x.value {
				t.Errorf("round %d: a filling of %d, said to be worth %d, is worth %d", round, w, x.value, x.worth(values))
			}
		}
		if had != best[size] {
			t.Errorf("round %d: best filling %d, not %d", round, had, best[size])
		}
	}
}
