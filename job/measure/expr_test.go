package measure

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestExpr(t *testing.T) {
	names := map[string]Length{
		"slot-left": Frac(5, 1, 4), "base": Frac(0, 3, 4), "insert": Frac(0, 1, 4), "a": 10 * Inch, "b": 4 * Inch, "a-b": 77 * MM,
		"x2": 2 * Inch, "Plattenstärke": 18 * MM,
	}
	for _, c := range []struct {
		text  string
		def   System
		want  Length
		exact bool
	}{
		{"slot-left + 3/8", Inches, Frac(5, 5, 8), true},
		{"(base - insert) / 2", Inches, Frac(0, 1, 4), true},
		{"a - b", Inches, 6 * Inch, true},
		{"a-b", Inches, 77 * MM, true},
		{"(a)-(b)", Inches, 6 * Inch, true},
		{"12-1/8", Inches, Frac(12, 1, 8), true},
		{"12 1/8", Inches, Frac(12, 1, 8), true},
		{"12 - 1/8", Inches, Frac(11, 7, 8), true},
		{"2 * a", Inches, 20 * Inch, true},
		{"a * 2 - 1", Inches, 19 * Inch, true},
		{"1/2 * b", Inches, 2 * Inch, true},
		{"a / b * 2", Inches, 0, true}, // a plain number
		{"a / b * 2 in", Inches, 5 * Inch, true},
		{"a / 3", Inches, 33_866_667, false},
		{"a / 3 * 3", Inches, 10 * Inch, true},
		{"min(a, b, 3)", Inches, 3 * Inch, true},
		{"max(a; b) + 1/2", Inches, Frac(10, 1, 2), true},
		{"min(a, max(b, 5 - 1/8))", Inches, Frac(4, 7, 8), true},
		{"-a + 2 * -b", Inches, -18 * Inch, true},
		{"308", Metric, 308 * MM, true},
		{"300 + 1/2 in", Metric, 300*MM + 12*MM + 7*MM/10, true},
		{"1,5 + 2", Metric, 3*MM + MM/2, true},
		{"1' 6-1/2\" + 1/2", Inches, 19 * Inch, true},
		{"3 + 4 * 2", Inches, 11 * Inch, true},
		{"(3 + 4) * 2", Inches, 14 * Inch, true},
		{"3/4/3", Inches, Frac(0, 1, 4), true},
		{"Plattenstärke / 2", Metric, 9 * MM, true},
		{"x2 × 2", Inches, 4 * Inch, true},
	} {
		e, err := ParseExpr(c.text, c.def)
		if c.want == 0 {
			assert.ErrorContains(t, err, "plain number", c.text)
			continue
		}
		require.NoError(t, err, c.text)
		v, err := e.Eval(func(n string) (Length, bool) { l, ok := names[n]; return l, ok })
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, v.Length, c.text)
		assert.Equal(t, c.exact, v.Exact, c.text)
	}
	e, err := ParseExpr("b + a - min(b, slot-left)", Inches)
	require.NoError(t, err)
	assert.Equal(t, []string{"a", "b", "slot-left"}, e.Names())
	_, ok := e.Number()
	assert.False(t, ok)
	_, ok = e.Const()
	assert.False(t, ok)
}

func TestExprRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		col  int
		msg  string
	}{
		{"a * b", 1, "area"},
		{"2 in * 3 in", 1, "area"},
		{"1 + (a * b)", 6, "area"},
		{"2 / a", 1, "no length"},
		{"a / b", 1, "plain number"},
		{"a / b + c", 1, "cannot be added"},
		{"min(a, a / b)", 1, "cannot be added or compared"},
		{"a -b", 3, "space on both sides"},
		{"12-1", 3, "space on both sides"},
		{"12 -1/8", 4, "space on both sides"},
		{"a +", 4, "missing at the end"},
		{"(a", 1, "not closed"},
		{"a)", 2, "without an opening"},
		{"a b", 3, "operator is missing"},
		{"3 foo", 3, "operator is missing"},
		{"mm + 3", 1, "unit without a number"},
		{"min 3", 1, "needs brackets"},
		{"min(1,5)", 5, "comma between two digits"},
		{"()", 2, "missing before"},
		{"a & b", 3, "cannot read"},
		{strings.Repeat("(", 100) + "a", 62, "too deep"},
		{strings.Repeat("-", 100) + "a", 62, "too deep"},
		{strings.Repeat("a + ", 1000) + "a", 1, "too long"},
	} {
		_, err := ParseExpr(c.text, Inches)
		var pe *ParseError
		require.ErrorAs(t, err, &pe, c.text)
		assert.Contains(t, pe.Msg, c.msg, c.text)
		assert.Equal(t, c.col, pe.Col, c.text)
	}
	for text, msg := range map[string]string{"a + nope": "no measure has this name", "a / (2 - 2)": "divided by zero", "a * 999999999": "100 km"} {
		e, err := ParseExpr(text, Inches)
		require.NoError(t, err)
		_, err = e.Eval(func(n string) (Length, bool) { return Inch * 100, n == "a" })
		assert.ErrorContains(t, err, msg)
	}
}

func exprs(t *testing.T, m map[string]string) map[string]*Expr {
	t.Helper()
	out := map[string]*Expr{}
	for k, v := range m {
		e, err := ParseExpr(v, Inches)
		require.NoError(t, err, v)
		out[k] = e
	}
	return out
}

func TestResolveAll(t *testing.T) {
	vals, errs := ResolveAll(exprs(t, map[string]string{
		"width": "10", "third": "width / 3", "again": "third * 3", "slot-left": "5-1/4", "fence": "slot-left + 3/8",
	}))
	require.Empty(t, errs)
	assert.Equal(t, Value{10 * Inch, true}, vals["again"])
	assert.False(t, vals["third"].Exact)
	assert.Equal(t, Frac(5, 5, 8), vals["fence"].Length)

	vals, errs = ResolveAll(exprs(t, map[string]string{
		"c": "a + 1", "a": "b + 1", "b": "c * 2", "on-it": "a + 1", "free": "3", "self": "self", "lost": "nowhere + 1", "zero": "free / (free - 3) * free",
	}))
	var got []string
	for _, e := range errs {
		got = append(got, e.Error())
	}
	assert.Equal(t, 3*Inch, vals["free"].Length)
	assert.Len(t, vals, 1)
	require.Len(t, errs, 4, got)
	assert.Equal(t, []string{"a", "b", "c", "a"}, errs[0].Cycle)
	assert.Equal(t, "measures refer to each other in a circle: a -> b -> c -> a", errs[0].Error())
	assert.Equal(t, "lost", errs[1].Name)
	assert.Equal(t, 1, errs[1].Column())
	assert.Equal(t, []string{"self", "self"}, errs[2].Cycle)
	assert.Equal(t, `zero: divided by zero: "free / (free - 3)"`, errs[3].Error())
}

// A chain that squares a ratio at each step must end in an error, not in all the memory.
func TestResolveAllBounded(t *testing.T) {
	m := map[string]string{"m0": "3.1415926535 in", "m1": "2.7182818284 in"}
	prev, cur := "m0", "m1"
	for _, next := range strings.Split("abcdefghijklnopqrstuvwyz", "") {
		m[next] = cur + " / " + prev + " * " + cur + " / " + prev + " * " + cur
		prev, cur = cur, next
	}
	_, errs := ResolveAll(exprs(t, m))
	require.NotEmpty(t, errs)
	assert.ErrorContains(t, errs[0], "too many digits")
}

func TestParseSize(t *testing.T) {
	want := [3]Length{48 * Inch, 24 * Inch, Frac(0, 1, 2)}
	for _, text := range []string{"48 x 24 x 1/2", "48x24x1/2", "48 X 24 × 1/2", "48 by 24 by 1/2", `48" x 24" x 1/2"`, "4' x 2' x 1/2", "48×24×½", "  48 x 12 * 2 x 3/4 - 1/4 "} {
		es, err := ParseSize(text, Inches)
		require.NoError(t, err, text)
		for i, e := range es {
			v, err := e.Eval(nil)
			require.NoError(t, err)
			assert.Equal(t, want[i], v.Length, text)
		}
	}
	es, err := ParseSize("box-x x max(a, b) x ply", Inches)
	require.NoError(t, err)
	assert.Equal(t, []string{"box-x"}, es[0].Names())
	assert.Equal(t, "max(a, b)", es[1].String())
	_, err = es[2].Eval(nil)
	var pe *ParseError
	require.ErrorAs(t, err, &pe)
	assert.Equal(t, 21, pe.Col)
	assert.Equal(t, "ply", pe.Text)
	for text, col := range map[string]int{"48 x 24": 1, "48 x": 5, "48 x 24 x 1/2 x 3": 1, "48 24 x 3": 4, "48 x a * b x 3": 6, "48 x 24 x 1/2 foo": 15} {
		_, err := ParseSize(text, Inches)
		var pe *ParseError
		require.ErrorAs(t, err, &pe, text)
		assert.Equal(t, col, pe.Col, text)
	}
	ds, err := ParseDims("2 x 46 x 3/4", Inches, 3)
	require.NoError(t, err)
	n, ok := ds[0].Number()
	require.True(t, ok)
	assert.Zero(t, n.Cmp(big.NewRat(2, 1)))
	assert.False(t, errors.Is(err, pe))
}
