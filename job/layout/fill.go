package layout

import (
	"cmp"
	"slices"
)

// filler finds the fillings of one bar that are worth most at given values,
// where some lengths must not meet in a bar and some groups of lengths cost a
// penalty. A table over what is left of the bar says, for every length and
// shorter ones, how much they can still be worth; a walk along the lengths is
// cut off by it (R. da Silva, R. C. S. Schouery, "Solving cutting stock
// problems via an extended Ryan-Foster scheme and fast column generation",
// 2023, where the table is called a completion bound). Where the table would
// be too large, lengths in it are rounded down, which keeps it a bound.
type filler struct {
	size  int64
	short int64 // what may be left of a bar at most
	w     []int64
	clash [][]uint64 // of each length, those it must not meet; nil for none at all
	meets [][]meet   // of each length, the cuts that count it; nil for none at all
	steps int64

	order []int
	scale int64
	table [][]int64
	ban   [][]uint64
	cur   []int
	count []int32
	twos  twos
	sharp bool // top is wanted as low as can be had
}

// meet says how often a length counts in a cut.
type meet struct{ cut, n int32 }

// filling is a bar's content: lengths in order, and how many of each.
type filling struct {
	rows  []int32
	n     []int32
	value int64
}

const (
	fillTable = 1 << 20 // cells, and up to four times as many where that makes the table exact
	fillSteps = 400_000
	fillMore  = 4000 // steps to go on after a filling is found
	fillAlike = 3    // fillings with the same longest length
)

// fill gives up to want fillings worth more than above, from among the best;
// no filling whatever is worth more than top. None are found without top
// being down to above only where limit steps did not suffice.
func (f *filler) fill(values, penalty []int64, most []int, above int64, want, limit int) (found []filling, top int64) {
	f.order = f.order[:0]
	for i, v := range values {
		if (v > 0 || f.short < f.size) && most[i] > 0 && f.w[i] <= f.size {
			f.order = append(f.order, i)
		}
	}
	slices.SortStableFunc(f.order, func(a, b int) int { return cmp.Compare(f.w[b], f.w[a]) })
	f.bounds(values, most)
	n := len(f.order)
	if len(f.cur) < len(f.w) {
		f.cur = make([]int, len(f.w))
	}
	if len(f.count) < len(penalty) {
		f.count = make([]int32, len(penalty))
	}
	words := (len(f.w) + 63) / 64
	if f.clash != nil && (len(f.ban) == 0 || len(f.ban[0]) != words) {
		f.ban = [][]uint64{make([]uint64, words)}
	}
	clear(f.cur)
	clear(f.count)
	steps, end, enough := 0, limit, want
	var floor int64
	var walk func(t, depth int, room, v int64) bool
	few := f.readyTwos(values)
	walk = func(t, depth int, room, v int64) bool {
		if room < few && v+f.twos.most(room) <= floor {
			return true
		}
		c := room / f.scale
		for ; t < n; t++ {
			if v+f.table[t][c] <= floor {
				return true
			}
			i := f.order[t]
			if f.w[i] > room {
				continue
			}
			k := min(int(room/f.w[i]), most[i])
			if f.clash != nil {
				if f.ban[depth][i/64]>>(i%64)&1 == 1 {
					continue
				}
				if f.clash[i][i/64]>>(i%64)&1 == 1 {
					k = 1
				}
				if len(f.ban) == depth+1 {
					f.ban = append(f.ban, make([]uint64, words))
				}
				for x, b := range f.ban[depth] {
					f.ban[depth+1][x] = b | f.clash[i][x]
				}
			}
			if steps++; steps > end {
				return false
			}
			for ; k > 0; k-- {
				if depth == 0 {
					enough = min(len(found)+fillAlike, want)
				}
				f.cur[i] = k
				loss := f.meet(i, k, penalty)
				ok := walk(t+1, depth+1, room-int64(k)*f.w[i], v+int64(k)*values[i]-loss)
				f.part(i, k)
				f.cur[i] = 0
				if !ok {
					if depth == 0 && len(found) == enough && enough < want && steps <= end {
						break // on to the next
					}
					return false
				}
			}
		}
		if v > floor && room <= f.short {
			found = append(found, f.take(v))
			end = min(end, steps+fillMore)
			return len(found) < enough
		}
		return true
	}
	top = f.table[0][f.size/f.scale]
	near := int64(dualScale / 1000)
	if f.sharp {
		near /= 100
	}
	for top > above {
		// Well above the least first: good fillings are few and soon found.
		floor = above
		if top-above > near {
			floor = above + (top-above)/2
		}
		if !walk(0, 0, f.size, 0) || len(found) > 0 {
			break
		}
		top = floor
	}
	for f.sharp && top > above && len(found) > 0 && steps < limit {
		// No filling is worth more than the best found, once that is seen.
		all := found
		floor = 0
		for i := range all {
			floor = max(floor, all[i].value)
		}
		found, want, enough, end = nil, 1, 1, limit
		clear(f.cur)
		if walk(0, 0, f.size, 0) {
			top = floor
			found = all
			break
		}
		found = append(all, found...)
	}
	f.steps += int64(steps)*8 + int64(n)
	return found, max(top, above)
}

// meet counts a length in and gives the penalty it brings.
func (f *filler) meet(i, k int, penalty []int64) (loss int64) {
	if f.meets == nil {
		return 0
	}
	for _, m := range f.meets[i] {
		was := f.count[m.cut]
		f.count[m.cut] += m.n * int32(k)
		loss += penalty[m.cut] * int64(f.count[m.cut]/2-was/2)
	}
	return loss
}

func (f *filler) part(i, k int) {
	if f.meets == nil {
		return
	}
	for _, m := range f.meets[i] {
		f.count[m.cut] -= m.n * int32(k)
	}
}

func (f *filler) take(v int64) filling {
	x := filling{value: v}
	for _, i := range f.order {
		if f.cur[i] > 0 {
			x.rows, x.n = append(x.rows, int32(i)), append(x.n, int32(f.cur[i]))
		}
	}
	return x
}

// bounds fills the table.
func (f *filler) bounds(values []int64, most []int) {
	n := len(f.order)
	f.scale = 1
	if limit := int64(fillTable / (n + 1)); f.size > 4*limit {
		f.scale = (f.size + limit - 1) / limit
	}
	cells := int(f.size/f.scale) + 1
	for len(f.table) <= n {
		f.table = append(f.table, nil)
	}
	for t := n; t >= 0; t-- {
		if cap(f.table[t]) < cells {
			f.table[t] = make([]int64, cells)
		}
		f.table[t] = f.table[t][:cells]
		row := f.table[t]
		if t == n {
			for c := range row {
				row[c] = 0
				if int64(c)*f.scale > f.short {
					row[c] = -1 << 60
				}
			}
			continue
		}
		next := f.table[t+1]
		i := f.order[t]
		w, v := int(f.w[i]/f.scale), values[i]
		// None and one in the same pass; then more.
		copy(row[:w], next)
		one := row[w:]
		for c, u := range next[:len(one)] {
			one[c] = max(u+v, next[w+c])
		}
		f.steps += int64(len(one) / 4)
		for k := 2; k <= most[i] && int64(k)*f.w[i] <= f.size; k++ {
			if f.clash != nil && f.clash[i][i/64]>>(i%64)&1 == 1 {
				break
			}
			from := k * w
			kv := int64(k) * v
			to := row[from:]
			for c, u := range next[:len(to)] {
				if u += kv; u > to[c] {
					to[c] = u
				}
			}
			f.steps += int64(len(to) / 4)
		}
	}
}

// column gives a filling its place where each length has the row of its index.
func (x *filling) column() column {
	c := column{cost: 1, rows: x.rows}
	for _, n := range x.n {
		c.vals = append(c.vals, float64(n))
	}
	return c
}
