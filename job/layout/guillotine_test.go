package layout

import (
	"path/filepath"
	"testing"
)

// The optima of the value sets gcut, J. E. Beasley, "Algorithms for
// unconstrained two-dimensional guillotine cutting", Journal of the
// Operational Research Society 36 (1985) 297-306.
func TestBestReachesPublishedValues(t *testing.T) {
	for _, ref := range readReference(t, "2d-value.csv") {
		if ref["set"] != "gcut" || ref["instance"] == "gcut13" && *pubSet != "gcut" { // gcut13 takes seconds
			continue
		}
		ns := readNumbers(t, filepath.Join(*cuttingDir, "2d-gcut", ref["instance"]+".txt"))
		for _, turn := range []bool{false, true} {
			var ps []Piece
			for m := ns[3:]; len(m) >= 3; m = m[3:] {
				ps = append(ps, Piece{m[0], m[1], m[2], turn})
			}
			want := ref["best_value_no_rotation"]
			if turn {
				want = ref["best_value_rotation"]
			}
			v, n := Best(ns[1], ns[2], ps)
			if v != atoi(t, want) {
				t.Errorf("%s, turning %v: %d, not %s", ref["instance"], turn, v, want)
			}
			sum := int64(0)
			for i, k := range n {
				sum += int64(k) * ps[i].Value
			}
			if sum != v {
				t.Errorf("%s, turning %v: the pieces counted are worth %d, not %d", ref["instance"], turn, sum, v)
			}
		}
	}
}
