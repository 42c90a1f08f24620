package schedule

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// CheckProof replays a proof log against the problem. With a result it reports
// whether the log shows every level that the result calls proved; with a nil
// result, whether it shows that there is no schedule. It shares the format of
// the log with the engine, and no reasoning: every lemma is checked against the
// problem by plain evaluation (see lemma.go), every clause by applying its hints
// one after the other.
func CheckProof(p *Problem, r *Result, log io.Reader) error {
	if err := p.Validate(); err != nil {
		return err
	}
	c := newReplay(p)
	sc := bufio.NewScanner(log)
	sc.Buffer(make([]byte, 1<<16), 1<<26)
	line := 0
	for sc.Scan() {
		line++
		if err := c.line(strings.Fields(sc.Text())); err != nil {
			return fmt.Errorf("proof line %d: %w", line, err)
		}
	}
	if err := sc.Err(); err != nil {
		return fmt.Errorf("proof line %d: %w", line+1, err)
	}
	if r == nil {
		if !c.dead {
			return fmt.Errorf("the proof does not show that there is no schedule")
		}
		if len(c.held) > 0 {
			return fmt.Errorf("the proof rests on a level taken for granted")
		}
		return nil
	}
	for k := 0; k < NumLevels && r.Levels[k].Proved; k++ {
		x, ok := c.goalOf(k)
		if !ok {
			if r.Levels[k].Value != 0 {
				return fmt.Errorf("the proof says nothing of the %s", levelNames[k])
			}
			continue
		}
		b, ok := c.bound[x]
		if !ok {
			b = c.lb[2*x]
		}
		if b < r.Levels[k].Value {
			return fmt.Errorf("the proof shows %s >= %d, not %d", levelNames[k], b, r.Levels[k].Value)
		}
		for j := 0; j < k; j++ {
			if y, ok := c.goalOf(j); ok {
				if v, ok := c.held[y]; ok && v < r.Levels[j].Value {
					return fmt.Errorf("the proof takes %s <= %d for granted", levelNames[j], v)
				}
			}
		}
	}
	return nil
}

// ruling is a lemma or a clause: the premises together give the conclusion.
// Without one they contradict each other; for a clause (free), any one of them
// is false if the others hold.
type ruling struct {
	if_   []atom
	then  atom
	bare  bool // no conclusion
	loose bool // a clause
}

type replay struct {
	p       *Problem
	n       int
	allowed [][]span // starts of every activity
	lb      []int64  // by direction, without assumptions
	what    map[int]string
	arg     map[int]int
	timeOf  map[int]int // activity -> variable of its change time
	pairs   map[int][2]occupation
	val     map[int]int8 // literals by variable
	rules   map[int]ruling
	bound   map[int]int64 // bound of a goal when it was first taken for granted
	held    map[int]int64
	dead    bool
	undo    []undoStep
	paths   map[int][]int64
	weights map[int][]int64 // surrogate resources: what every activity takes
	holding map[int]int64   // and how much there is
}

type occupation struct{ a, u int }

type undoStep struct {
	b   int
	old int64
}

func (c *replay) goalOf(k int) (int, bool) {
	name := [NumLevels]string{"lateness", "finish", "changes", "startsum"}[k]
	for x, w := range c.what {
		if w == name {
			return x, true
		}
	}
	return 0, false
}

func parseAtoms(fs []string) ([]atom, error) {
	var out []atom
	for _, f := range fs {
		a, err := parseAtom(f)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

func parseAtom(f string) (atom, error) {
	if strings.HasPrefix(f, "L") {
		l, err := strconv.ParseInt(f[1:], 10, 31)
		if err != nil || l < 0 {
			return atom{}, fmt.Errorf("bad literal %q", f)
		}
		return litAtom(lit(l)), nil
	}
	b, v, ok := strings.Cut(f, ">")
	x, err1 := strconv.ParseInt(b, 10, 31)
	y, err2 := strconv.ParseInt(v, 10, 62)
	if !ok || err1 != nil || err2 != nil || x < 0 {
		return atom{}, fmt.Errorf("bad statement %q", f)
	}
	return atom{int32(x), y}, nil
}

func parseInts(fs []string) ([]int, error) {
	var out []int
	for _, f := range fs {
		v, err := strconv.Atoi(f)
		if err != nil {
			return nil, fmt.Errorf("bad number %q", f)
		}
		out = append(out, v)
	}
	return out, nil
}

func cut(fs []string, sep string) (before, after []string) {
	for i, f := range fs {
		if f == sep {
			return fs[:i], fs[i+1:]
		}
	}
	return fs, nil
}

func (c *replay) line(fs []string) error {
	if len(fs) == 0 {
		return nil
	}
	kind, rest := fs[0], fs[1:]
	switch kind {
	case "x":
		return c.variable(rest)
	case "o":
		return c.literal(rest)
	case "w":
		return c.surrogate(rest)
	case "l":
		head, tail := cut(rest, ":")
		prem, concl := cut(tail, "=")
		if len(head) < 2 || len(concl) > 1 {
			return fmt.Errorf("bad lemma")
		}
		id, err := strconv.Atoi(head[0])
		if err != nil {
			return err
		}
		args, err := parseInts(head[2:])
		if err != nil {
			return err
		}
		r := ruling{bare: len(concl) == 0}
		if r.if_, err = parseAtoms(prem); err != nil {
			return err
		}
		if !r.bare {
			if r.then, err = parseAtom(concl[0]); err != nil {
				return err
			}
		}
		for _, a := range append(r.if_[:len(r.if_):len(r.if_)], r.then) {
			if int(a.b) >= len(c.lb) {
				return fmt.Errorf("a statement about no variable")
			}
		}
		if !c.lemma(head[1], args, r) {
			return fmt.Errorf("the problem does not give this %s lemma", head[1])
		}
		c.rules[id] = r
	case "c":
		head, hints := cut(rest, ":")
		if len(head) < 1 {
			return fmt.Errorf("bad clause")
		}
		id, err := strconv.Atoi(head[0])
		if err != nil {
			return err
		}
		atoms, err := parseAtoms(head[1:])
		if err != nil {
			return err
		}
		ids, err := parseInts(hints)
		if err != nil {
			return err
		}
		if !c.refuted(atoms, ids) {
			return fmt.Errorf("the hints do not lead to a contradiction")
		}
		c.rules[id] = ruling{if_: atoms, loose: true}
		if len(atoms) == 1 {
			c.apply(id)
			c.undo = c.undo[:0]
		}
	case "r":
		ids, err := parseInts(rest)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if c.apply(id) {
				c.dead = true
			}
		}
		c.undo = c.undo[:0]
	case "a":
		v, err := parseInts(rest)
		if err != nil || len(v) != 2 || v[0]*2+1 >= len(c.lb) || c.what[v[0]] == "" {
			return fmt.Errorf("bad assumption")
		}
		if _, ok := c.bound[v[0]]; !ok {
			c.bound[v[0]] = c.lb[2*v[0]]
			c.held[v[0]] = int64(v[1])
		}
		if c.set(atom{int32(2*v[0] + 1), -int64(v[1])}) {
			return fmt.Errorf("a level is held at a value that is ruled out")
		}
		c.undo = c.undo[:0]
	case "z":
		ids, err := parseInts(rest)
		if err != nil {
			return err
		}
		if !c.refuted(nil, ids) {
			return fmt.Errorf("the hints do not lead to a contradiction")
		}
		c.dead = true
	default:
		return fmt.Errorf("unknown entry %q", kind)
	}
	return nil
}

func (c *replay) holds(a atom) bool {
	if a.b < 0 {
		l := a.lit()
		v := c.val[int(l.v())]
		return v > 0 && !l.neg() || v < 0 && l.neg()
	}
	return int(a.b) < len(c.lb) && c.lb[a.b] >= a.v
}

// set makes a statement true; it reports a contradiction.
func (c *replay) set(a atom) bool {
	if a.b < 0 {
		l := a.lit()
		if c.holds(a) {
			return false
		}
		if c.val[int(l.v())] != 0 {
			return true
		}
		c.undo = append(c.undo, undoStep{-1 - int(l.v()), 0})
		if c.val[int(l.v())] = 1; l.neg() {
			c.val[int(l.v())] = -1
		}
		return false
	}
	v := c.round(int(a.b), a.v)
	if v <= c.lb[a.b] {
		return false
	}
	c.undo = append(c.undo, undoStep{int(a.b), c.lb[a.b]})
	c.lb[a.b] = v
	return v > -c.lb[a.b^1]
}

// negated is the opposite of a statement.
func negated(a atom) atom {
	if a.b < 0 {
		return litAtom(a.lit().not())
	}
	return atom{a.b ^ 1, 1 - a.v}
}

// apply draws the conclusion of a rule if it has one by now; it reports a
// contradiction.
func (c *replay) apply(id int) bool {
	r, ok := c.rules[id]
	if !ok {
		return false
	}
	open := -1
	for i, a := range r.if_ {
		if c.holds(a) {
			continue
		}
		if !r.loose || open >= 0 {
			return false
		}
		open = i
	}
	switch {
	case open >= 0:
		return c.set(negated(r.if_[open]))
	case r.loose || r.bare:
		return true
	}
	return c.set(r.then)
}

// refuted reports whether the statements, made true, lead to a contradiction
// by the hints in turn. Everything is undone again.
func (c *replay) refuted(atoms []atom, hints []int) bool {
	c.undo = c.undo[:0]
	bad := false
	for _, a := range atoms {
		bad = bad || c.set(a)
	}
	for _, id := range hints {
		bad = bad || c.apply(id)
	}
	for k := len(c.undo) - 1; k >= 0; k-- {
		u := c.undo[k]
		if u.b < 0 {
			delete(c.val, -1-u.b)
		} else {
			c.lb[u.b] = u.old
		}
	}
	c.undo = c.undo[:0]
	return bad
}
