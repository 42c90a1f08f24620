package store

import (
	"bytes"
	"container/heap"
	"sort"
)

// Reader reads commits, from one repository or from several.
type Reader func(Hash) (*CommitInfo, error)

// Either reads from a and, what is not there, from b.
func Either(a, b *Objects) Reader {
	return func(h Hash) (*CommitInfo, error) {
		ok, err := a.Has(h)
		if err != nil {
			return nil, err
		}
		if !ok {
			return b.GetCommit(h)
		}
		c, err := a.GetCommit(h)
		if err != nil { // damaged here, perhaps whole there
			if d, berr := b.GetCommit(h); berr == nil {
				return d, nil
			}
		}
		return c, err
	}
}

type queue []*CommitInfo

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	a, b := q[i].Committer.When.Unix(), q[j].Committer.When.Unix()
	if a != b {
		return a > b
	}
	return bytes.Compare(q[i].Hash[:], q[j].Hash[:]) < 0
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(*CommitInfo)) }
func (q *queue) Pop() any {
	o := *q
	c := o[len(o)-1]
	*q = o[:len(o)-1]
	return c
}

const (
	fromA = 1 << iota
	fromB
	stale
	result
)

// paint colours the ancestors of a and of b, newest first, until all that is left to look at has both colours. Clocks that
// run wrong cost time here, never correctness: a commit coloured anew is looked at anew.
func paint(get Reader, as, bs []Hash) (map[Hash]int, map[Hash]*CommitInfo, error) {
	flags := map[Hash]int{}
	seen := map[Hash]*CommitInfo{}
	var q queue
	open := 0 // in the queue without the stale mark
	inq := map[Hash]bool{}
	add := func(h Hash, f int) error {
		if flags[h]&f == f {
			return nil
		}
		c := seen[h]
		if c == nil {
			var err error
			if c, err = get(h); err != nil {
				return err
			}
			seen[h] = c
		}
		was := flags[h]
		flags[h] |= f
		if inq[h] {
			if was&stale == 0 && flags[h]&stale != 0 {
				open--
			}
			return nil
		}
		inq[h] = true
		if flags[h]&stale == 0 {
			open++
		}
		heap.Push(&q, c)
		return nil
	}
	for _, h := range as {
		if err := add(h, fromA); err != nil {
			return nil, nil, err
		}
	}
	for _, h := range bs {
		if err := add(h, fromB); err != nil {
			return nil, nil, err
		}
	}
	for open > 0 {
		c := heap.Pop(&q).(*CommitInfo)
		h := c.Hash
		inq[h] = false
		f := flags[h] & (fromA | fromB | stale)
		if f&stale == 0 {
			open--
		}
		if f&(fromA|fromB) == fromA|fromB {
			if flags[h]&result == 0 {
				flags[h] |= result
			}
			f |= stale
		}
		for _, p := range c.Parents {
			if err := add(p, f); err != nil {
				return nil, nil, err
			}
		}
	}
	return flags, seen, nil
}

// Bases gives the best common ancestors of two commits, sorted by name: one as a rule, several after a criss-cross, none for
// histories that never met.
func Bases(get Reader, a, b Hash) ([]Hash, error) {
	if a == b {
		return []Hash{a}, nil
	}
	flags, _, err := paint(get, []Hash{a}, []Hash{b})
	if err != nil {
		return nil, err
	}
	var found []Hash
	for h, f := range flags {
		if f&result != 0 && f&stale == 0 {
			found = append(found, h)
		}
	}
	sortHashes(found)
	if len(found) < 2 {
		return found, nil
	}
	// One may be an ancestor of another where clocks ran wrong.
	var out []Hash
	for i, h := range found {
		below := false
		for j, g := range found {
			if i != j && !below {
				if below, err = reaches(get, g, h); err != nil {
					return nil, err
				}
			}
		}
		if !below {
			out = append(out, h)
		}
	}
	return out, nil
}

// reaches tells whether h is an ancestor of from (or is it), by looking at all of them.
func reaches(get Reader, from, h Hash) (bool, error) {
	seen := map[Hash]bool{from: true}
	for todo := []Hash{from}; len(todo) > 0; {
		g := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if g == h {
			return true, nil
		}
		c, err := get(g)
		if err != nil {
			return false, err
		}
		for _, p := range c.Parents {
			if !seen[p] {
				seen[p] = true
				todo = append(todo, p)
			}
		}
	}
	return false, nil
}

// IsAncestor tells whether a is b or an ancestor of b.
func IsAncestor(get Reader, a, b Hash) (bool, error) {
	if a == b {
		return true, nil
	}
	bases, err := Bases(get, a, b)
	return err == nil && len(bases) == 1 && bases[0] == a, err
}

// Since lists the commits that are reachable from the tips and not from what is known, newest first. Every known commit must
// be readable.
func Since(get Reader, tips, known []Hash) ([]*CommitInfo, error) {
	flags, seen, err := paint(get, tips, known)
	if err != nil {
		return nil, err
	}
	var out queue
	for h, f := range flags {
		if f&fromA != 0 && f&fromB == 0 {
			out = append(out, seen[h])
		}
	}
	sort.Sort(out)
	return out, nil
}

// ObjectsOf lists the commits and everything in them that their parents do not have at the same place: what a repository
// that has the parents needs to have the commits too.
func (o *Objects) ObjectsOf(commits []*CommitInfo) ([]Hash, error) {
	var out []Hash
	seen := map[Hash]bool{}
	for _, c := range commits {
		if !seen[c.Hash] {
			seen[c.Hash] = true
			out = append(out, c.Hash)
		}
	}
	// Parents come before children: what a child shares with a parent is then either known to the receiver or in the list.
	for _, c := range parentsFirst(commits) {
		var olds []Hash
		for _, p := range c.Parents {
			pc, err := o.GetCommit(p)
			if err != nil {
				return nil, err
			}
			olds = append(olds, pc.Tree)
		}
		if err := o.newIn(c.Tree, olds, seen, &out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func parentsFirst(commits []*CommitInfo) []*CommitInfo {
	in := make(map[Hash]*CommitInfo, len(commits))
	for _, c := range commits {
		in[c.Hash] = c
	}
	out := make([]*CommitInfo, 0, len(commits))
	done := map[Hash]int{} // 1: its parents are on the way, 2: listed
	for i := len(commits) - 1; i >= 0; i-- {
		stack := []*CommitInfo{commits[i]}
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			switch done[c.Hash] {
			case 0:
				done[c.Hash] = 1
				for _, p := range c.Parents {
					if pc := in[p]; pc != nil && done[p] == 0 {
						stack = append(stack, pc)
					}
				}
				continue
			case 1:
				done[c.Hash] = 2
				out = append(out, c)
			}
			stack = stack[:len(stack)-1]
		}
	}
	return out
}

func (o *Objects) newIn(t Hash, olds []Hash, seen map[Hash]bool, out *[]Hash) error {
	for _, x := range olds {
		if x == t {
			return nil
		}
	}
	if seen[t] {
		return nil
	}
	seen[t] = true
	*out = append(*out, t)
	es, err := o.GetTree(t)
	if err != nil {
		return err
	}
	before := make([]map[string]TreeEntry, 0, len(olds))
	for _, x := range olds {
		ox, err := o.GetTree(x)
		if err != nil {
			return err
		}
		m := make(map[string]TreeEntry, len(ox))
		for _, e := range ox {
			m[e.Name] = e
		}
		before = append(before, m)
	}
	for _, e := range es {
		if e.Mode == ModeSub || seen[e.Hash] {
			continue
		}
		var sub []Hash
		same := false
		for _, m := range before {
			if b, ok := m[e.Name]; ok {
				if b.Hash == e.Hash {
					same = true
					break
				}
				if b.Mode == ModeDir && e.Mode == ModeDir {
					sub = append(sub, b.Hash)
				}
			}
		}
		if same {
			continue
		}
		if e.Mode == ModeDir {
			if err := o.newIn(e.Hash, sub, seen, out); err != nil {
				return err
			}
			continue
		}
		seen[e.Hash] = true
		*out = append(*out, e.Hash)
	}
	return nil
}

// Newest lists up to max commits that the tips reach, newest first.
func Newest(get Reader, tips []Hash, max int) ([]*CommitInfo, error) {
	var q queue
	seen := map[Hash]bool{}
	add := func(h Hash) error {
		if seen[h] {
			return nil
		}
		seen[h] = true
		c, err := get(h)
		if err == nil {
			heap.Push(&q, c)
		}
		return err
	}
	for _, h := range tips {
		if err := add(h); err != nil {
			return nil, err
		}
	}
	var out []*CommitInfo
	for q.Len() > 0 && len(out) < max {
		c := heap.Pop(&q).(*CommitInfo)
		out = append(out, c)
		for _, p := range c.Parents {
			if err := add(p); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}
