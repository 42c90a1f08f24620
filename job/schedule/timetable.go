package schedule

import "fmt"

// The time-table of a resource adds up what is surely in use at every tick and
// pushes away what no longer fits, with explanations for one point of time
// where that suffices (Schutt, Feydy, Stuckey, Wallace 2011).

// tabTask is an occupation from the start of a to the end of u.
type tabTask struct {
	a, u  int32
	qty   int64
	solid bool // never empty
}

type table struct {
	res    int
	cap    int64
	tasks  []tabTask
	queued bool
	// scratch
	byLst, byEet []int32
	lst, eet     []int64
	at           []int64 // step k lasts from at[k] to at[k+1]
	use          []int64
	part         []int32 // tasks with a sure part, in order of its beginning
}

// tabUse says that a bound of a variable matters to a task of a table.
type tabUse struct {
	table int16
	start bool // the variable is the start of the task
	end   bool // its end
	task  int32
}

func (e *engine) addTable(res int, cap int64, tasks []tabTask) {
	k := len(e.tables)
	t := table{res: res, cap: cap, tasks: tasks, lst: make([]int64, len(tasks)), eet: make([]int64, len(tasks))}
	for i, tk := range tasks {
		t.byLst = append(t.byLst, int32(i))
		t.byEet = append(t.byEet, int32(i))
		e.tabOf[tk.a] = append(e.tabOf[tk.a], tabUse{int16(k), true, tk.a == tk.u, int32(i)})
		if tk.a != tk.u {
			e.tabOf[tk.u] = append(e.tabOf[tk.u], tabUse{int16(k), false, true, int32(i)})
		}
	}
	e.tables = append(e.tables, t)
	e.wakeTable(int32(k))
}

func (e *engine) wakeTable(k int32) {
	if t := &e.tables[k]; !t.queued {
		t.queued = true
		e.queue = append(e.queue, k)
	}
}

// wakeTables queues the tables that a raised bound concerns.
func (e *engine) wakeTables(b int32) {
	for _, u := range e.tabOf[b>>1] {
		e.wakeTable(int32(u.table))
	}
}

// build makes the steps of sure use. It reports the step that is over capacity,
// or -1.
func (e *engine) build(t *table) int {
	for i := range t.tasks {
		tk := &t.tasks[i]
		t.lst[i] = max(-e.lb[2*tk.a+1], 0)
		t.eet[i] = e.eet[tk.u]
	}
	insertion(t.byLst, t.lst)
	insertion(t.byEet, t.eet)
	t.at, t.use = t.at[:0], t.use[:0]
	t.part = t.part[:0]
	t.at = append(t.at, -inf)
	t.use = append(t.use, 0)
	use, over := int64(0), -1
	i, j, n := 0, 0, len(t.tasks)
	for {
		for i < n && t.lst[t.byLst[i]] >= t.eet[t.byLst[i]] {
			i++
		}
		for j < n && t.lst[t.byEet[j]] >= t.eet[t.byEet[j]] {
			j++
		}
		if j >= n {
			break
		}
		now := t.eet[t.byEet[j]]
		if i < n && t.lst[t.byLst[i]] < now {
			now = t.lst[t.byLst[i]]
			use += t.tasks[t.byLst[i]].qty
			t.part = append(t.part, t.byLst[i])
			i++
		} else {
			use -= t.tasks[t.byEet[j]].qty
			j++
		}
		k := len(t.at) - 1
		if t.at[k] == now {
			t.use[k] = use
		} else {
			t.at = append(t.at, now)
			t.use = append(t.use, use)
		}
	}
	for k, u := range t.use {
		if u > t.cap {
			over = k
			break
		}
	}
	t.at = append(t.at, inf)
	return over
}

// insertion sorts indices that are nearly in order by their key.
func insertion(idx []int32, key []int64) {
	for i := 1; i < len(idx); i++ {
		v := idx[i]
		kv := key[v]
		j := i
		for j > 0 && key[idx[j-1]] > kv {
			idx[j] = idx[j-1]
			j--
		}
		idx[j] = v
	}
}

func (e *engine) runTable(k int32) bool {
	t := &e.tables[k]
	e.work += int64(len(t.tasks)) / 8
	if over := e.build(t); over >= 0 {
		mid := t.at[over] + (t.at[over+1]-t.at[over])/2
		e.confl = e.cover(t, mid, mid, t.cap, -1, int32(len(e.trail)), e.confl[:0])
		if e.proof != nil {
			e.proof.clash(fmt.Sprintf("table %d", t.res), e.confl, int32(len(e.trail)))
		}
		return false
	}
	most := int64(0)
	for _, u := range t.use {
		most = max(most, u)
	}
	for i := range t.tasks {
		tk := &t.tasks[i]
		if most+tk.qty <= t.cap {
			continue
		}
		if e.lb[2*tk.a] == -e.lb[2*tk.a+1] && (tk.a == tk.u || e.lb[2*tk.u] == -e.lb[2*tk.u+1]) {
			continue
		}
		if !e.pushLate(t, int16(k), int32(i)) || !e.pushEarly(t, int16(k), int32(i)) {
			return false
		}
	}
	return true
}

// pushLate raises the start of a task over the steps where it does not fit.
func (e *engine) pushLate(t *table, k int16, i int32) bool {
	tk := &t.tasks[i]
	est, eet := e.lb[2*tk.a], e.eet[tk.u]
	lst, sure := t.lst[i], t.eet[i] // its own sure part counts in the steps
	s := stepAt(t.at, max(est, 0))
	for ; s < len(t.use) && t.at[s] < eet; s++ {
		if t.use[s]+tk.qty <= t.cap || (t.at[s] >= lst && t.at[s+1] <= sure) {
			continue
		}
		t1, t2 := t.at[s], t.at[s+1]
		if est >= t2 {
			continue
		}
		for est < t2 && t1 < eet {
			to := min(t2, eet)
			if to < t2 && tk.solid && t2-eet > 2*(eet-est) {
				to = t2
			}
			if to <= est {
				break
			}
			if !e.raise(2*tk.a, to, byTable, k, i, t1, t2) {
				return false
			}
			if e.lb[2*tk.a] == est {
				break
			}
			est, eet = e.lb[2*tk.a], e.eet[tk.u]
		}
	}
	return true
}

// pushEarly lowers the end of a task under the steps where it does not fit.
func (e *engine) pushEarly(t *table, k int16, i int32) bool {
	tk := &t.tasks[i]
	own1, own2 := t.lst[i], t.eet[i]
	lst := -e.lb[2*tk.a+1]
	ub := -e.lb[2*tk.u+1]
	lct := e.end(tk.u, ub)
	for s := stepAt(t.at, lct-1); s >= 0 && t.at[s+1] > lst; s-- {
		if t.use[s]+tk.qty <= t.cap || (t.at[s] >= own1 && t.at[s+1] <= own2) {
			continue
		}
		t1, t2 := t.at[s], t.at[s+1]
		for lct > t1 && lst < t2 {
			to := max(t1, lst)
			if to > t1 && tk.solid && lst-t1 > 2*(lct-lst) {
				to = t1
			}
			if to >= lct {
				break
			}
			if !e.raise(2*tk.u+1, -e.endBy(tk.u, to), byTable, k, i, t1, t2) {
				return false
			}
			if ub == -e.lb[2*tk.u+1] {
				break
			}
			ub = -e.lb[2*tk.u+1]
			lst = -e.lb[2*tk.a+1]
			lct = e.end(tk.u, ub)
		}
	}
	return true
}

func stepAt(at []int64, t int64) int {
	i, j := 0, len(at)
	for i < j {
		h := int(uint(i+j) >> 1)
		if at[h] <= t {
			i = h + 1
		} else {
			j = h
		}
	}
	return i - 1
}

// explainTable explains a push: others fill the resource over a stretch that
// the task cannot avoid otherwise.
func (e *engine) explainTable(k int32, v int64, out []atom) []atom {
	en := &e.trail[k]
	t := &e.tables[en.table]
	tk := &t.tasks[en.rx]
	t1, t2 := en.r1, en.r2
	if en.b == 2*tk.a { // start >= v: no start up to w, the last one before v
		w := e.prev(tk.a, v-1)
		eet := e.end(tk.u, e.at(2*tk.u, k))
		x, y := max(t1, w), max(t1, w)
		if x >= eet { // too short to reach so far: the whole stretch is full
			x = t1
		}
		out = append(out, atom{2 * tk.u, e.endFrom(tk.u, x+1)})
		return e.cover(t, x, y, t.cap-tk.qty, en.rx, k, out)
	}
	z := e.next(tk.u, -v+1)
	x := t1
	if z < inf {
		x = e.end(tk.u, z) - 1
	}
	x = min(x, t2-1)
	y := x
	if -e.at(2*tk.a+1, k) > x {
		y = t2 - 1
	}
	out = append(out, atom{2*tk.a + 1, -e.prev(tk.a, y)})
	return e.cover(t, x, y, t.cap-tk.qty, en.rx, k, out)
}

// cover lists bounds of tasks, except one, that surely hold from tick x through
// tick y and together take more than most, all true before trail index k.
func (e *engine) cover(t *table, x, y, most int64, except int32, k int32, out []atom) []atom {
	type piece struct {
		task int32
		late int32 // trail index of the later of its two bounds
	}
	var buf [64]piece
	ps := buf[:0]
	total := int64(0)
	for i := range t.tasks {
		if int32(i) == except {
			continue
		}
		tk := &t.tasks[i]
		// quick tests with the present bounds, which are the tightest
		if -e.lb[2*tk.a+1] > x || e.eet[tk.u] <= y {
			continue
		}
		p1 := e.first(2*tk.a+1, -x)
		if p1 >= k {
			continue
		}
		p2 := e.first(2*tk.u, e.endFrom(tk.u, y+1))
		if p2 >= k {
			continue
		}
		ps = append(ps, piece{int32(i), max(p1, p2)})
		total += tk.qty
	}
	// give away what is not needed, the latest first
	for spare := total - most - 1; spare > 0; {
		drop := -1
		for i := range ps {
			if t.tasks[ps[i].task].qty <= spare && (drop < 0 || ps[i].late > ps[drop].late) {
				drop = i
			}
		}
		if drop < 0 {
			break
		}
		spare -= t.tasks[ps[drop].task].qty
		ps = append(ps[:drop], ps[drop+1:]...)
	}
	for _, p := range ps {
		tk := &t.tasks[p.task]
		out = append(out, atom{2*tk.a + 1, -e.prev(tk.a, x)}, atom{2 * tk.u, e.endFrom(tk.u, y+1)})
	}
	return out
}
