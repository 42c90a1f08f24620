package layout

import "math"

// centre is the dual values with the best bound so far. The linear program's
// own values swing about from round to round; patterns are looked for at values
// between the two, which keep near what is known to be good (A. Pessoa, R.
// Sadykov, E. Uchoa, F. Vanderbeck, "Automation and combination of
// linear-programming based stabilization techniques in column generation",
// INFORMS Journal on Computing 30 (2018)).
type centre struct {
	values []int64
	bound  float64 // sheets or bars that they prove
	mixed  []int64
	plain  bool // the program's own values are asked next
}

const centreShare = 0.8 // of the values in between that come from the centre

// newCentre begins from the values that give every length its share of the bar:
// no bar holds more than one's worth of them.
func (r *bars) newCentre(left []int) *centre {
	c := &centre{}
	var sum int64
	for i, w := range r.w {
		c.values = append(c.values, int64(float64(w)/float64(r.size)*dualScale))
		sum += w * int64(left[i])
	}
	c.bound = float64(sum) / float64(r.size)
	return c
}

// between gives the values to ask.
func (c *centre) between(values []int64) []int64 {
	if c.plain {
		return values
	}
	c.mixed = c.mixed[:0]
	for i, v := range values {
		c.mixed = append(c.mixed, v+int64(math.Round(centreShare*float64(c.values[i]-v))))
	}
	return c.mixed
}

// learn takes in that no bar is worth more than top at the values asked, and
// whether a pattern came of it that betters the program. It says whether
// there may still be one.
func (c *centre) learn(asked []int64, top int64, left []int, some bool) bool {
	if !some && c.plain {
		return false
	}
	want := 0.0
	for i, v := range asked {
		want += float64(float64(v) * float64(left[i]))
	}
	if b := want / float64(top); b > c.bound {
		c.values, c.bound = append(c.values[:0], asked...), b
	}
	c.plain = !some
	return true
}

// worth is what a filling is worth at given values.
func (x *filling) worth(values []int64) (v int64) {
	for k, i := range x.rows {
		v += values[i] * int64(x.n[k])
	}
	return v
}
