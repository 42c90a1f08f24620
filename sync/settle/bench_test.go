package settle

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// A job of the usual size that both machines changed, and a stock list of a
// hundred times that.
func BenchmarkSettle(b *testing.B) {
	big := strings.Builder{}
	h := &hands{r: rand.New(rand.NewPCG(1, 1))}
	big.WriteString("sheets:\n")
	for range 8000 {
		big.WriteString("  - id: " + h.word() + "\n    qty: " + h.word() + "   # counted\n    size: 48 x 24 x 1/2\n")
	}
	for _, c := range []struct{ name, path, text string }{{"job", jobPath, job}, {"story", "jobs/a/build.md", build}, {"stock", "stock.yaml", big.String()}} {
		b.Run(c.name, func(b *testing.B) {
			ours := strings.Replace(strings.Replace(c.text, "w1w", "o1o", 1), "orsion", "oggle", 1)
			i := strings.LastIndexAny(c.text, "14")
			theirs := c.text[:i] + "5" + c.text[i+1:]
			b.SetBytes(int64(len(c.text)))
			for range b.N {
				Settle(c.path, some(c.text), some(ours), some(theirs), atHome, atShop, Options{})
			}
		})
	}
}
