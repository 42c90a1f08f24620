package proof

import (
	"fmt"
	"slices"
	"sort"

	"caul/job"
	"caul/job/measure"
)

// setting is what has to be the same for two cuts to be made at one set-up.
type setting struct {
	machine, cutter     string
	bit                 measure.Length
	fence, height, show measure.Length
	hasFence, middle    bool
	angle, tilt         float64
	through             bool
}

func (m *SetUp) setting() setting {
	return setting{m.Machine, m.Cutter, m.Bit, m.Fence, m.Height, m.Show, m.HasFence, m.Middle, m.Angle, m.Tilt, m.Through}
}

// Key is the same for two settings that a machine need not be touched between.
func (m *SetUp) Key() string {
	k := m.setting()
	k.machine = ""
	return fmt.Sprintf("%+v", k)
}

// operation is one cut of a part with the setting it wants, the cuts that have
// to be made before it, and the step that makes it.
type operation struct {
	set     SetUp // Ops holds the one cut
	after   []int // indices of operations
	wait    []int // indices of those that the order of the steps puts before it
	before  string
	kind    string // of cut
	stopped bool   // begins or ends within the work
	rank    int    // place of the step that waits for it; the number of steps when none does
	step    string
}

// SetUps groups the machining of a job by machine, cutter, fence and height,
// in an order that visits each setting once: the cuts of a step before those
// of the steps after it, what an earlier step waits for first, then machine by
// machine and cutter by cutter. A counterbore
// comes before its hole, a countersink after it, a relief cut before its
// dovetail; only where these leave no other way is a setting made twice.
func SetUps(s *job.Shop, j *job.Job) []SetUp {
	return group(s, j, operations(s, j), nil, nil)
}

// StepSetUps gives every step the settings that it has to make, in the order
// of SetUps. The cuts of a part are made by the step that is said to use the
// part and whose `setup:` names their machine; else by one that uses the part
// and has no `setup:`; else by one whose `setup:` is that machine and no more,
// and that says of no part that it uses it. Of several it is the first; for a
// cut with `before:` the last that comes before. Glue-ups and finishing make
// none, and a cut that no step makes is in nobody's list.
func StepSetUps(s *job.Shop, j *job.Job) map[string][]SetUp {
	by, pos := map[string][]int{}, stepOrder(j)
	ops := operations(s, j)
	for i := range ops {
		by[ops[i].step] = append(by[ops[i].step], i)
	}
	out := map[string][]SetUp{}
	for i := range j.Steps {
		id := j.Steps[i].ID
		if len(by[id]) > 0 {
			early, late := shared(ops, pos, id)
			out[id] = group(s, j, pick(ops, by[id]), early, late)
		}
	}
	return out
}

// shared are the settings of a step that steps before it and after it want
// too: made first and last, they may be found made.
func shared(ops []operation, pos map[string]int, id string) (early, late map[setting]bool) {
	early, late = map[setting]bool{}, map[setting]bool{}
	for i := range ops {
		switch k := ops[i].set.setting(); {
		case ops[i].step == "" || ops[i].step == id:
		case pos[ops[i].step] < pos[id]:
			early[k] = true
		default:
			late[k] = true
		}
	}
	return early, late
}

// pick takes some of the operations; what they wait for among the others is
// taken as done.
func pick(ops []operation, which []int) []operation {
	at := map[int]int{}
	for n, i := range which {
		at[i] = n
	}
	out := make([]operation, len(which))
	for n, i := range which {
		out[n] = ops[i]
		out[n].after, out[n].wait = nil, nil
		for _, a := range ops[i].after {
			if k, ok := at[a]; ok {
				out[n].after = append(out[n].after, k)
			}
		}
	}
	return out
}

// operations lists every cut of every part of a job.
func operations(s *job.Shop, j *job.Job) []operation {
	pos, before := stepOrder(j), after(j)
	var out []operation
	for i := range j.Parts {
		p := &j.Parts[i]
		made := make([][]int, len(p.Machining)) // operations of each feature
		for k := range p.Machining {
			f := &p.Machining[k]
			for n, m := range settingsOf(s, p, f) {
				m.Job = j.ID
				m.Ops[0].Pieces = p.Qty * max(j.Copies, 1)
				op := operation{set: m, kind: f.Kind, stopped: f.Kind == "slot" || f.Start.Set || f.Stop.Set, before: f.Before, rank: len(j.Steps), step: maker(j, p, f, m.Machine, pos, before)}
				if w, ok := pos[f.Before]; ok {
					op.rank = w
				}
				if n > 0 {
					op.after = append(op.after, len(out)-1)
				}
				made[k] = append(made[k], len(out))
				out = append(out, op)
			}
		}
		for a := range p.Machining {
			for b := range p.Machining {
				if a != b && len(made[a]) > 0 && len(made[b]) > 0 && isRelief(s, &p.Machining[a], &p.Machining[b]) {
					out[made[b][0]].after = append(out[made[b][0]].after, made[a][len(made[a])-1])
				}
			}
		}
	}
	byStep(out, before)
	return out
}

// byStep puts the cuts of a step before those of the steps that come after it,
// and a cut that a step must find done before that step's own.
func byStep(ops []operation, before map[string]map[string]bool) {
	for i := range ops {
		for k := range ops {
			a, b := &ops[i], &ops[k]
			if b.step == "" || i == k {
				continue
			}
			if a.step != "" && before[b.step][a.step] || a.before != "" && (b.step == a.before || before[b.step][a.before]) {
				b.wait = append(b.wait, i)
			}
		}
	}
}

// isRelief tells whether a is a straight groove down the middle of the
// dovetail groove b.
func isRelief(s *job.Shop, a, b *job.Feature) bool {
	c := checker{shop: s}
	if _, ok := c.dovetailOf(b); !ok {
		return false
	}
	if _, ok := c.dovetailOf(a); ok || a.Kind != "groove" && a.Kind != "dado" {
		return false
	}
	return faceFor(a) == faceFor(b) && a.Along == b.Along && a.From == b.From && a.Offset.Length == b.Offset.Length
}

// maker is the step that makes a cut of a part, or "".
func maker(j *job.Job, p *job.Part, f *job.Feature, machine string, pos map[string]int, before map[string]map[string]bool) string {
	tiers := [3]string{}
	for i := range j.Steps {
		st := &j.Steps[i]
		if st.GlueUp != nil || st.Finish {
			continue
		}
		uses, same := slices.Contains(st.Uses, p.ID), st.Machine == machine
		tier := -1
		switch {
		case uses && same:
			tier = 0
		case uses && st.SetUp == "":
			tier = 1
		case same && st.State == "" && len(st.Uses) == 0:
			tier = 2
		default:
			continue
		}
		if f.Before != "" {
			if st.ID == f.Before || before[st.ID][f.Before] {
				continue // too late
			}
			if t := tiers[tier]; t == "" || pos[st.ID] > pos[t] {
				tiers[tier] = st.ID
			}
			continue
		}
		if t := tiers[tier]; t == "" || pos[st.ID] < pos[t] {
			tiers[tier] = st.ID
		}
	}
	for _, id := range tiers {
		if id != "" {
			return id
		}
	}
	return ""
}

// group puts operations of one setting together and the settings in order,
// those of early first and those of late last where nothing speaks against it.
func group(s *job.Shop, j *job.Job, ops []operation, early, late map[setting]bool) []SetUp {
	first := map[setting]int{} // place of the earliest step that waits for a setting
	var machines []string
	best := map[string]int{}
	for i := range ops {
		k := ops[i].set.setting()
		if r, ok := first[k]; !ok || ops[i].rank < r {
			first[k] = ops[i].rank
		}
		if r, ok := best[k.machine]; !ok {
			machines = append(machines, k.machine)
			best[k.machine] = ops[i].rank
		} else if ops[i].rank < r {
			best[k.machine] = ops[i].rank
		}
	}
	sort.SliceStable(machines, func(a, b int) bool { return best[machines[a]] < best[machines[b]] })
	rank := map[string]int{}
	for i, m := range machines {
		rank[m] = i
	}
	done := make([]bool, len(ops))
	out := []SetUp{}
	seen := map[setting]bool{}
	o := order{ops: ops, done: done, first: first, rank: rank, early: tools(early, ops), late: tools(late, ops), earlySet: early, lateSet: late}
	for left := len(ops); left > 0; {
		next, all := setting{}, false
		found := false
		if !anyReady(ops, done) {
			for i := range ops {
				ops[i].wait = nil // the steps ask for what the cuts forbid: the cuts decide
			}
		}
		o.lookAhead()
		for i := range ops {
			if done[i] || !ready(ops, done, i) {
				continue
			}
			k := ops[i].set.setting()
			whole := wholeReady(ops, done, k)
			if !found || whole && !all || whole == all && o.sooner(k, next) {
				next, all, found = k, whole, true
			}
		}
		if !found {
			break // cannot be: no cut waits for itself
		}
		m := SetUp{}
		for more := true; more; { // a cut may open the way for another at the same setting
			more = false
			for i := range ops {
				if done[i] || ops[i].set.setting() != next || !ready(ops, done, i) {
					continue
				}
				if m.Ops == nil {
					m = ops[i].set
					m.Ops = nil
				}
				m.Ops = append(m.Ops, ops[i].set.Ops[0])
				if w := ops[i].before; w != "" && (m.Before == "" || ops[i].rank == first[next]) {
					m.Before = w
				}
				if st := ops[i].step; st != "" && !slices.Contains(m.Steps, st) {
					m.Steps = append(m.Steps, st)
				}
				done[i], more = true, true
				left--
			}
		}
		m.N, m.Again = len(out)+1, seen[next]
		seen[next] = true
		m.Notes = append(notes(s, &m), overNotes(s, j, &m)...)
		out = append(out, m)
		o.last = next
	}
	return out
}

// tool is a setting with all but machine and cutter left out.
func (k setting) tool() setting {
	return setting{machine: k.machine, cutter: k.cutter, bit: k.bit}
}

// tools are the cutters of those operations whose setting is in the set.
func tools(set map[setting]bool, ops []operation) map[setting]bool {
	out := map[setting]bool{}
	for i := range ops {
		if k := ops[i].set.setting(); set[k] {
			out[k.tool()] = true
		}
	}
	return out
}

func ready(ops []operation, done []bool, i int) bool {
	for _, a := range ops[i].after {
		if !done[a] {
			return false
		}
	}
	for _, a := range ops[i].wait {
		if !done[a] {
			return false
		}
	}
	return true
}

func anyReady(ops []operation, done []bool) bool {
	for i := range ops {
		if !done[i] && ready(ops, done, i) {
			return true
		}
	}
	return false
}

// wholeReady tells whether all that is cut at a setting can be cut now, so
// that it is made once.
func wholeReady(ops []operation, done []bool, k setting) bool {
	for i := range ops {
		if done[i] || ops[i].set.setting() != k {
			continue
		}
		for _, a := range slices.Concat(ops[i].after, ops[i].wait) {
			if !done[a] && ops[a].set.setting() != k {
				return false
			}
		}
	}
	return true
}

// order is what decides which setting comes next.
type order struct {
	ops               []operation
	done              []bool
	last              setting
	first             map[setting]int // place of the earliest step that waits for a setting
	rank              map[string]int  // of the machines
	early, late       map[setting]bool
	earlySet, lateSet map[setting]bool
	backTo            map[string]bool  // machines, see lookAhead
	comesBack         map[setting]bool // cutters
}

// sooner tells whether setting a comes before b: the machine and the cutter
// that are set up are used up first, and a cutter that need not be taken up
// again later comes before one that must.
func (o *order) sooner(a, b setting) bool {
	if x, y := a.machine == o.last.machine, b.machine == o.last.machine; x != y {
		return x
	}
	if a.machine != b.machine {
		if x, y := o.backTo[a.machine], o.backTo[b.machine]; x != y {
			return y
		}
		return o.rank[a.machine] < o.rank[b.machine]
	}
	if o.first[a] != o.first[b] {
		return o.first[a] < o.first[b]
	}
	ta, tb := a.tool(), b.tool()
	if ta != tb {
		if x, y := ta == o.last.tool(), tb == o.last.tool(); x != y {
			return x
		}
		if x, y := o.comesBack[ta], o.comesBack[tb]; x != y {
			return y
		}
		if o.early[ta] != o.early[tb] {
			return o.early[ta]
		}
		if o.late[ta] != o.late[tb] {
			return o.late[tb]
		}
	}
	if o.earlySet[a] != o.earlySet[b] {
		return o.earlySet[a]
	}
	if o.lateSet[a] != o.lateSet[b] {
		return o.lateSet[b]
	}
	switch {
	case a.cutter != b.cutter:
		return a.cutter < b.cutter
	case a.bit != b.bit:
		return a.bit < b.bit
	case a.height != b.height:
		return a.height < b.height // raising the cutter, not lowering it
	}
	return a.fence < b.fence
}

// lookAhead finds the machines and the cutters of which some cut has to wait
// for another machine or cutter, so that taking them up now means doing so
// again.
func (o *order) lookAhead() {
	o.backTo, o.comesBack = map[string]bool{}, map[setting]bool{}
	for i := range o.ops {
		if o.done[i] {
			continue
		}
		k := o.ops[i].set.setting().tool()
		for _, a := range slices.Concat(o.ops[i].after, o.ops[i].wait) {
			if o.done[a] {
				continue
			}
			t := o.ops[a].set.setting().tool()
			if t.machine != k.machine {
				o.backTo[k.machine] = true
			}
			if t != k {
				o.comesBack[k] = true
			}
		}
	}
}

// stepOrder gives each step its place in an order that respects what waits for
// what.
func stepOrder(j *job.Job) map[string]int {
	before := after(j)
	ids := make([]string, 0, len(j.Steps))
	for i := range j.Steps {
		ids = append(ids, j.Steps[i].ID)
	}
	sort.SliceStable(ids, func(a, b int) bool { return len(before[ids[a]]) < len(before[ids[b]]) })
	out := map[string]int{}
	for i, id := range ids {
		out[id] = i
	}
	return out
}
