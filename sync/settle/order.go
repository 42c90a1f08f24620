package settle

// mergeOrder puts the items of two sequences into one order. Items are named
// by keys that are unique within each sequence; base is the order both started
// from, older and newer are the orders of the two sides, and only items in
// keep are placed.
//
// Items that both sides have keep the order of the side that moved them; when
// both moved them the newer side's order holds. An item that only one side has
// follows the item it follows there. Two runs of such items at one place are
// woven by key (interleave), so that three machines adding at one place end in
// the same order whichever two meet first, or set one after the other, which
// reads better for prose.
func mergeOrder(base, older, newer []string, keep map[string]bool, interleave bool) []string {
	inBase, inOlder, inNewer := indexOf(base), indexOf(older), indexOf(newer)
	both := func(k string) bool {
		_, a := inOlder[k]
		_, b := inNewer[k]
		return a && b && keep[k]
	}
	o, n := filter(older, both), filter(newer, both)
	spine := n
	if !equalStrings(o, n) {
		all := func(k string) bool { _, ok := inBase[k]; return ok && both(k) }
		b := filter(base, all)
		if equalStrings(filter(newer, all), b) && !equalStrings(filter(older, all), b) {
			spine = o
		}
	}
	lone := func(k string) bool { return keep[k] && !both(k) }
	runsO, runsN := runs(older, both, lone), runs(newer, both, lone)
	rank := func(k string) string {
		if _, ok := inBase[k]; ok {
			return "\x00" + k // what stood there before comes before what was added
		}
		return k
	}
	out := make([]string, 0, len(spine))
	place := func(anchor string) {
		a, b := runsO[anchor], runsN[anchor]
		if !interleave && len(a) > 0 && len(b) > 0 {
			if rank(b[0]) < rank(a[0]) {
				a, b = b, a
			}
			out = append(append(out, a...), b...)
			return
		}
		for len(a) > 0 && len(b) > 0 {
			if rank(b[0]) < rank(a[0]) {
				out, b = append(out, b[0]), b[1:]
			} else {
				out, a = append(out, a[0]), a[1:]
			}
		}
		out = append(append(out, a...), b...)
	}
	place("")
	for _, k := range spine {
		out = append(out, k)
		place("=" + k)
	}
	return out
}

// runs lists, for each item of the spine ("=" + key, or "" for the start), the
// lone items that follow it.
func runs(seq []string, spine, lone func(string) bool) map[string][]string {
	out := map[string][]string{}
	anchor := ""
	for _, k := range seq {
		switch {
		case spine(k):
			anchor = "=" + k
		case lone(k):
			out[anchor] = append(out[anchor], k)
		}
	}
	return out
}

func indexOf(seq []string) map[string]int {
	m := make(map[string]int, len(seq))
	for i, k := range seq {
		m[k] = i
	}
	return m
}

func filter(seq []string, ok func(string) bool) []string {
	out := make([]string, 0, len(seq))
	for _, k := range seq {
		if ok(k) {
			out = append(out, k)
		}
	}
	return out
}

func equalStrings(a, b []string) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}
