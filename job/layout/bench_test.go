package layout

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
)

// benchList is a list of so many parts for sheets of 96 x 48 in with a kerf of
// 1/8 in, half of them locked to the grain.
func benchList(parts int) *Problem {
	r := rand.New(rand.NewPCG(uint64(parts), 3))
	p := &Problem{Kerf: inch / 8, KeepX: 6 * inch, KeepY: 3 * inch,
		Stocks: []Stock{{X: 96 * inch, Y: 48 * inch, Trim: Trim{inch / 4, inch / 4, inch / 4, inch / 4}, Price: 7000, Qty: -1}}}
	for range parts {
		p.Parts = append(p.Parts, Part{X: int64(48+r.IntN(592)) * sixteenth, Y: int64(32+r.IntN(256)) * sixteenth, Qty: 1, Turn: r.IntN(2) == 0})
	}
	return p
}

// BenchmarkSolve shows time and quality by the number of parts: sheets, the
// bound, and the share of the sheets that is parts.
func BenchmarkSolve(b *testing.B) {
	for _, parts := range []int{5, 10, 20, 40, 80, 160, 320, 640} {
		b.Run(fmt.Sprint("parts=", parts), func(b *testing.B) {
			p := benchList(parts)
			var r *Result
			for range b.N {
				r, _ = Solve(context.Background(), p, Options{})
			}
			var area float64
			for _, q := range p.Parts {
				area += float64(q.X) * float64(q.Y)
			}
			b.ReportMetric(float64(r.Used.Value), "sheets")
			b.ReportMetric(float64(r.Used.Bound), "bound")
			b.ReportMetric(100*area/(float64(r.Used.Value)*float64(p.Stocks[0].X)*float64(p.Stocks[0].Y)), "%used")
		})
	}
}

// BenchmarkFirst shows the time to the first layout.
func BenchmarkFirst(b *testing.B) {
	for _, parts := range []int{5, 40, 150, 640} {
		b.Run(fmt.Sprint("parts=", parts), func(b *testing.B) {
			p := benchList(parts)
			for range b.N {
				in := prepare(p)
				s := in.newSearch(context.Background(), 0)
				s.limit = 1
				s.first()
				in.emit(s.best, s.bestOut)
			}
		})
	}
}

// BenchmarkBars shows the exact road: lengths from bars of 96 in.
func BenchmarkBars(b *testing.B) {
	for _, parts := range []int{10, 40, 160, 640} {
		b.Run(fmt.Sprint("parts=", parts), func(b *testing.B) {
			r := rand.New(rand.NewPCG(uint64(parts), 4))
			p := &Problem{Kerf: inch / 8, Stocks: []Stock{{X: 96 * inch, Price: 900, Qty: -1}}}
			for range parts {
				p.Parts = append(p.Parts, Part{X: int64(64+r.IntN(600)) * sixteenth, Qty: 1})
			}
			var res *Result
			for range b.N {
				res, _ = Solve(context.Background(), p, Options{})
			}
			b.ReportMetric(float64(res.Used.Value), "bars")
			b.ReportMetric(float64(res.Used.Bound), "bound")
		})
	}
}
