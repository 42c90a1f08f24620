package layout

import (
	"context"
	"testing"

	"pgregory.net/rapid"
)

func TestLayoutsPassCheck(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		r, err := Solve(context.Background(), p, Options{Work: 3000})
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(p, r); err != nil {
			t.Fatalf("%v\n%+v", err, p)
		}
	})
}

// drawProblem draws a small cut list with everything that a shop may ask for.
func drawProblem(t *rapid.T) *Problem {
	p := &Problem{
		Kerf:      rapid.Int64Range(0, 3).Draw(t, "kerf"),
		MaxStages: rapid.SampledFrom([]int{0, 0, 1, 2, 3}).Draw(t, "stages"),
		KeepX:     rapid.Int64Range(0, 5).Draw(t, "keepx"),
		KeepY:     rapid.Int64Range(0, 5).Draw(t, "keepy"),
	}
	flat := rapid.IntRange(0, 3).Draw(t, "flat") == 0
	for range rapid.IntRange(1, 3).Draw(t, "stocks") {
		s := Stock{X: rapid.Int64Range(5, 60).Draw(t, "x"), Y: rapid.Int64Range(5, 40).Draw(t, "y"), Qty: rapid.IntRange(-1, 3).Draw(t, "qty")}
		if flat && rapid.Bool().Draw(t, "thin") {
			s.Y = 0
		}
		if rapid.Bool().Draw(t, "trimmed") {
			s.Trim = Trim{rapid.Int64Range(0, 3).Draw(t, "l"), rapid.Int64Range(0, 3).Draw(t, "r"), 0, 0}
			if s.Y > 0 {
				s.Trim.Near, s.Trim.Far = rapid.Int64Range(0, 3).Draw(t, "n"), rapid.Int64Range(0, 3).Draw(t, "f")
			}
		}
		if s.OnHand = rapid.Bool().Draw(t, "onhand"); !s.OnHand {
			s.Price = rapid.Int64Range(0, 9).Draw(t, "price")
		}
		for range rapid.IntRange(0, 2).Draw(t, "defects") {
			s.Defects = append(s.Defects, Rect{rapid.Int64Range(0, 50).Draw(t, "dx"), rapid.Int64Range(0, 30).Draw(t, "dy"), rapid.Int64Range(1, 9).Draw(t, "dw"), rapid.Int64Range(1, 9).Draw(t, "dh")})
		}
		p.Stocks = append(p.Stocks, s)
	}
	for range rapid.IntRange(0, 6).Draw(t, "parts") {
		q := Part{X: rapid.Int64Range(1, 40).Draw(t, "px"), Y: rapid.Int64Range(1, 20).Draw(t, "py"), Qty: rapid.IntRange(0, 4).Draw(t, "n"), Turn: rapid.Bool().Draw(t, "turn")}
		if flat {
			q.Y = 0
		}
		q.Group = rapid.SampledFrom([]string{"", "", "", "a", "b"}).Draw(t, "group")
		if rapid.IntRange(0, 4).Draw(t, "some") == 0 {
			q.Stocks = []int{rapid.IntRange(0, len(p.Stocks)-1).Draw(t, "from")}
		}
		p.Parts = append(p.Parts, q)
	}
	return p
}
