package settle

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"sort"
	"strings"
	"time"
)

// history is a store of commits in memory, with what sync does on top of it:
// merge bases, bases of several bases, edits of a side, and the settling of
// two heads. Machines that settle the same two heads make the same commit.
type history struct {
	commits map[string]*commit
	merges  map[string]string
	opts    Options
}

type commit struct {
	id      string
	parents []string
	tree    map[string]string
	machine string
	when    time.Time
	depth   int
}

func (h *history) add(c *commit) string {
	s := sha256.New()
	for _, p := range c.parents {
		fmt.Fprintln(s, p)
		c.depth = max(c.depth, h.commits[p].depth+1)
	}
	for _, p := range sortedKeys(c.tree) {
		fmt.Fprintf(s, "%s %d %s\n", p, len(c.tree[p]), c.tree[p])
	}
	fmt.Fprintln(s, c.machine, c.when)
	c.id = fmt.Sprintf("%x", s.Sum(nil)[:10])
	h.commits[c.id] = c
	return c.id
}

func (h *history) ancestors(id string) map[string]bool {
	out := map[string]bool{}
	todo := []string{id}
	for len(todo) > 0 {
		c := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if !out[c] {
			out[c] = true
			todo = append(todo, h.commits[c].parents...)
		}
	}
	return out
}

func (h *history) bases(a, b string) []string {
	aa, bb := h.ancestors(a), h.ancestors(b)
	var common []string
	for id := range aa {
		if bb[id] {
			common = append(common, id)
		}
	}
	under := map[string]bool{}
	for _, id := range common {
		for p := range h.ancestors(id) {
			if p != id {
				under[p] = true
			}
		}
	}
	var out []string
	for _, id := range common {
		if !under[id] {
			out = append(out, id)
		}
	}
	sort.Strings(out)
	return out
}

// base is the tree two commits started from; several bases are settled among
// themselves first.
func (h *history) base(a, b string) map[string]string {
	bs := h.bases(a, b)
	if len(bs) == 0 {
		return map[string]string{}
	}
	id := bs[0]
	for _, next := range bs[1:] {
		id = h.merge(id, next)
	}
	return h.commits[id].tree
}

func (h *history) edits(path string, in, notIn map[string]bool) func() []Edit {
	return func() []Edit {
		var out []Edit
		for id := range in {
			c := h.commits[id]
			if notIn[id] || len(c.parents) != 1 {
				continue
			}
			before, after := lookFile(h.commits[c.parents[0]].tree, path), lookFile(c.tree, path)
			if !sameFile(before, after) {
				out = append(out, Edit{c.machine, c.when, before, after})
			}
		}
		return out
	}
}

func lookFile(tree map[string]string, p string) File {
	s, ok := tree[p]
	return File{ok, []byte(s)}
}

func look(tree map[string]string) Lookup {
	return func(p string) (File, error) { return lookFile(tree, p), nil }
}

// side is the machine and time of the last edit of a path that one head has
// and the other has not.
func (h *history) side(path string, head *commit, in, notIn map[string]bool) Side {
	s := Side{Machine: head.machine, When: time.Time{}, Edits: h.edits(path, in, notIn)}
	for _, e := range s.Edits() {
		if stampOf(s.Machine, s.When).less(stampOf(e.Machine, e.When)) {
			s.Machine, s.When = e.Machine, e.When
		}
	}
	return s
}

// merge gives the commit that settles two.
func (h *history) merge(a, b string) string {
	aa, bb := h.ancestors(a), h.ancestors(b)
	if aa[b] {
		return a
	}
	if bb[a] {
		return b
	}
	if b < a {
		a, b, aa, bb = b, a, bb, aa
	}
	if id, ok := h.merges[a+b]; ok {
		return id
	}
	ca, cb := h.commits[a], h.commits[b]
	base := h.base(a, b)
	seen := map[string]bool{}
	var paths []string
	for _, tree := range []map[string]string{base, ca.tree, cb.tree} {
		for p := range tree {
			if !seen[p] {
				seen[p] = true
				paths = append(paths, p)
			}
		}
	}
	out, err := SettleFolder(paths, Folder{look(base), look(ca.tree), look(cb.tree), func(p string) (Side, Side) {
		return h.side(p, ca, aa, bb), h.side(p, cb, bb, aa)
	}}, h.opts)
	if err != nil {
		panic(err)
	}
	tree := map[string]string{}
	for _, f := range out.Files {
		if !f.Deleted {
			tree[f.Path] = string(f.Data)
		}
	}
	when := ca.when
	if cb.when.After(when) {
		when = cb.when
	}
	id := h.add(&commit{parents: []string{a, b}, tree: tree, machine: "settled", when: when})
	h.merges[a+b] = id
	return id
}

// shopRun is one invented history of several machines and remotes.
type shopRun struct {
	h        *history
	hands    *hands
	r        *rand.Rand
	clock    time.Time
	machines []machine
	remotes  []string
	settled  map[string]bool // records that someone settled
}

type machine struct {
	name string
	head string
	skew time.Duration
}

func newShopRun(seed uint64) *shopRun {
	r := rand.New(rand.NewPCG(seed, 0xca01))
	s := &shopRun{
		h:       &history{commits: map[string]*commit{}, merges: map[string]string{}},
		hands:   &hands{r: r},
		r:       r,
		clock:   time.Date(2026, 3, 14, 8, 0, 0, 0, time.UTC),
		settled: map[string]bool{},
	}
	root := s.h.add(&commit{machine: "home", when: s.clock, tree: map[string]string{
		"shop.yaml":       s.hands.yaml(),
		"jobs/a/job.yaml": s.hands.yaml(),
		"jobs/a/build.md": s.hands.markdown(),
		"prices.csv":      s.hands.rows(),
	}})
	for i := range 2 + r.IntN(3) {
		s.machines = append(s.machines, machine{fmt.Sprintf("machine-%c", 'a'+i), root, time.Duration(r.IntN(96)-48) * time.Hour})
	}
	for range 1 + r.IntN(3) {
		s.remotes = append(s.remotes, root)
	}
	return s
}

// work lets a machine make one commit of one to three edits.
func (s *shopRun) work(m *machine) {
	s.clock = s.clock.Add(time.Duration(1+s.r.IntN(500)) * time.Minute)
	before := s.h.commits[m.head].tree
	tree := map[string]string{}
	for p, v := range before {
		tree[p] = v
	}
	for range 1 + s.r.IntN(3) {
		s.oneChange(m, tree)
	}
	same := len(tree) == len(before)
	for p, v := range tree {
		same = same && before[p] == v
	}
	if !same {
		m.head = s.h.add(&commit{parents: []string{m.head}, tree: tree, machine: m.name, when: s.clock.Add(m.skew)})
	}
}

func (s *shopRun) oneChange(m *machine, tree map[string]string) {
	w := s.hands.word
	paths := sortedKeys(tree)
	p := paths[s.r.IntN(len(paths))]
	switch op := s.r.IntN(20); {
	case op == 0: // a log entry; rarely under a name that another machine takes too
		name := fmt.Sprintf("jobs/a/log/%s-%s.md", s.clock.Format("2006-01-02T1504"), m.name)
		if s.r.IntN(3) == 0 {
			name = fmt.Sprintf("jobs/a/log/%d.md", s.r.IntN(3))
		}
		if _, there := tree[name]; !there {
			tree[name] = fmt.Sprintf("---\nat: %s\n---\n%s\n", s.clock.Format(time.RFC3339), w())
		}
	case op == 1:
		name := fmt.Sprintf("jobs/a/photos/%d.jpg", s.r.IntN(4))
		tree[name] = "\xff\xd8\x00" + w()
	case op == 2: // a new job, perhaps under a name that another machine takes too
		name := fmt.Sprintf("jobs/%c/job.yaml", 'b'+s.r.IntN(3))
		if _, there := tree[name]; !there {
			tree[name] = s.hands.yaml()
		}
	case op == 3 && len(paths) > 4: // a file deleted
		if !isRecord(p) {
			delete(tree, p)
		}
	case op == 4: // a file renamed
		if to := strings.Replace(p, "/a/", "/r"+w()+"/", 1); to != p && !isRecord(p) {
			tree[to] = tree[p]
			delete(tree, p)
		}
	case op == 7: // a job renamed
		if name := strings.Split(p, "/"); len(name) > 2 && name[0] == "jobs" && !isRecord(p) {
			to := "jobs/n" + w() + "/"
			for _, q := range paths {
				if rest, ok := strings.CutPrefix(q, "jobs/"+name[1]+"/"); ok {
					tree[to+rest] = tree[q]
					delete(tree, q)
				}
			}
		}
	case op <= 6:
		for _, q := range paths { // a record settled
			if isRecord(q) && s.r.IntN(2) == 0 {
				s.settleOne(q, tree)
				break
			}
		}
	case isRecord(p), addsUp(p) && s.r.IntN(3) > 0:
	default:
		tree[p] = s.hands.edit(p, tree[p])
	}
}

func (s *shopRun) settleOne(name string, tree map[string]string) {
	r, err := ParseRecord(name, []byte(tree[name]))
	if err != nil {
		panic(fmt.Sprintf("%s does not read: %v", name, err))
	}
	if s.r.IntN(2) == 0 {
		f, err := Take(r, TakeOther, lookFile(tree, r.Path))
		if err != nil {
			return // the place changed since: the record stays
		}
		if f.Exists {
			tree[r.Path] = string(f.Data)
		} else {
			delete(tree, r.Path)
		}
	}
	delete(tree, name)
	s.settled[name] = true
}

func (s *shopRun) sync(m *machine, remote int) {
	m.head = s.h.merge(m.head, s.remotes[remote])
	s.remotes[remote] = m.head
}

// run works and syncs at random, then syncs until all are one. It reports
// false if that does not come about.
func (s *shopRun) run(steps int) bool {
	for range steps {
		m := &s.machines[s.r.IntN(len(s.machines))]
		switch s.r.IntN(5) {
		case 0, 1:
			s.sync(m, s.r.IntN(len(s.remotes)))
		case 2: // a stick pulled: fetched and settled, not pushed
			m.head = s.h.merge(m.head, s.remotes[s.r.IntN(len(s.remotes))])
		default:
			s.work(m)
		}
	}
	for round := 0; round < 4; round++ {
		one := true
		for i := range s.machines {
			for range 2 { // all remotes fetched from before any is pushed to
				for k := range s.remotes {
					s.machines[i].head = s.h.merge(s.machines[i].head, s.remotes[k])
				}
			}
			for k := range s.remotes {
				s.remotes[k] = s.machines[i].head
			}
			one = one && s.machines[i].head == s.machines[0].head
		}
		if one && round > 0 {
			return true
		}
	}
	return false
}
