package schedule

import (
	"bufio"
	"fmt"
	"io"
	"sort"
)

// proofLog writes the reasoning of an engine for CheckProof. Lines are:
//
//	x ID KIND ARGS     an integer variable beside the starts (IDs 0 to n-1)
//	o VAR U A V B R    a literal: U ends before A starts, or else V before B, on resource R
//	l ID KIND ARGS : ATOMS = ATOM   a lemma of the problem (no ATOM: a contradiction)
//	c ID ATOMS : HINTS              these cannot hold together, by the hints in turn
//	r ID               the lemma or clause draws its conclusion without any assumption
//	a VAR V            from here on, VAR <= V is taken for granted (a level that is held)
//	z HINTS            there is no schedule
//
// An atom is "B>V", direction B has reached V (2i: start i >= V; 2i+1: start i
// <= -V), or "LN", literal N is true.
type proofLog struct {
	w     *bufio.Writer
	next  int
	root  int // level-0 entries written so far
	hints []hint
	ids   map[int32]int // clause -> id
	last  int
	busy  bool
	err   error
}

type hint struct {
	at int32
	id int
}

func newProofLog(w io.Writer, e *engine) *proofLog {
	p := &proofLog{w: bufio.NewWriter(w), next: 1, ids: map[int32]int{}}
	for _, v := range e.named {
		p.printf("x %d %s\n", v.x, v.what)
	}
	for _, o := range e.pairs {
		p.printf("o %d %d %d %d %d %d\n", o.v, o.s.u, o.t.a, o.t.u, o.s.a, o.res)
	}
	return p
}

// weighs writes a surrogate resource: what every activity takes of it, and how
// much there is.
func (p *proofLog) weighs(k int, cap int64, acts []int32, q []int64) {
	p.printf("w %d %d", k, cap)
	for i, a := range acts {
		p.printf(" %d %d", a, q[i])
	}
	p.printf("\n")
}

func (p *proofLog) printf(format string, args ...any) {
	if _, err := fmt.Fprintf(p.w, format, args...); err != nil && p.err == nil {
		p.err = err
	}
}

func (p *proofLog) atoms(as []atom) {
	for _, a := range as {
		p.atom(a)
	}
}

func (p *proofLog) atom(a atom) {
	if a.b < 0 {
		p.printf(" L%d", a.lit())
	} else {
		p.printf(" %d>%d", a.b, a.v)
	}
}

// lemma writes the reason just given for entry k reaching v.
func (p *proofLog) lemma(e *engine, t *entry, k int32, v int64, why []atom) {
	if t.kind == byDecision {
		return
	}
	if e.level() == 0 && !p.busy {
		p.flushTo(e, int(k))
	}
	if t.kind == byClause {
		p.hints = append(p.hints, hint{k, p.ids[t.rx]})
		return
	}
	p.printf("l %d %s :", p.next, e.lemmaName(t, k))
	p.atoms(why)
	p.printf(" =")
	if t.b < 0 {
		p.atom(atom{b: t.b})
	} else {
		p.atom(atom{t.b, v})
	}
	p.printf("\n")
	p.hints = append(p.hints, hint{k, p.next})
	p.next++
}

// clash writes a lemma that is a contradiction by itself.
func (p *proofLog) clash(name string, why []atom, k int32) {
	p.printf("l %d %s :", p.next, name)
	p.atoms(why)
	p.printf(" =\n")
	p.hints = append(p.hints, hint{k, p.next})
	p.next++
}

// met notes that a clause is the conflict.
func (p *proofLog) met(ref int32, k int32) {
	p.hints = append(p.hints, hint{k, p.ids[ref]})
}

// flush writes what the engine knows without any decision.
func (p *proofLog) flush(e *engine) {
	if len(e.lim) > 0 {
		p.flushTo(e, int(e.lim[0]))
	} else {
		p.flushTo(e, len(e.trail))
	}
}

func (p *proofLog) flushTo(e *engine, end int) {
	keep := p.hints
	p.busy = true
	for ; p.root < end; p.root++ {
		p.hints = nil
		t := &e.trail[p.root]
		e.scratch2 = e.explain(int32(p.root), t.val, e.scratch2[:0])
		for _, h := range p.hints {
			p.printf("r %d\n", h.id)
		}
	}
	p.hints = keep
	p.busy = false
}

func (p *proofLog) writeHints() {
	sort.SliceStable(p.hints, func(a, b int) bool { return p.hints[a].at < p.hints[b].at })
	for _, h := range p.hints {
		p.printf(" %d", h.id)
	}
	p.printf("\n")
	p.hints = p.hints[:0]
}

// learned writes the clause that the analysis has come to; its atoms cannot
// hold together.
func (p *proofLog) learned(atoms []atom) {
	p.last = p.next
	p.printf("c %d", p.next)
	p.next++
	p.atoms(atoms)
	p.printf(" :")
	p.writeHints()
}

// closed writes that the conflict needs no decision.
func (p *proofLog) closed(e *engine) {
	p.flush(e)
	p.printf("z")
	p.writeHints()
	p.done(e)
}

func (p *proofLog) held(e *engine, x int32, v int64) {
	p.flush(e)
	p.printf("a %d %d\n", x, v)
}

// done ends the log as far as it goes.
func (p *proofLog) done(e *engine) {
	if !e.unsat {
		p.flush(e)
	}
	if err := p.w.Flush(); err != nil && p.err == nil {
		p.err = err
	}
}

// named is a variable with what it stands for, for the proof log.
type named struct {
	x    int32
	what string
}

// pairLit is an order literal with the occupations it orders.
type pairLit struct {
	v    int32
	s, t tabTask
	res  int
}

func (e *engine) lemmaName(t *entry, k int32) string {
	switch t.kind {
	case byArc:
		a := &e.arcs[t.rx]
		return fmt.Sprintf("arc %d %d", a.from, a.to)
	case byHalf, byOrder:
		h := &e.halves[t.rx]
		return fmt.Sprintf("half %d %d %d", h.u, h.a, h.change)
	case byChain:
		return fmt.Sprintf("chain %d %d %d", t.r1>>32, t.rx, t.r2>>32)
	case byTable:
		return fmt.Sprintf("table %d", e.tables[t.table].res)
	case bySum:
		return fmt.Sprintf("sum %d", e.sums[t.rx].total)
	case bySetup:
		u := &e.users[t.rx]
		return fmt.Sprintf("setup %d %d", u.act, t.r1)
	case byTurns:
		return fmt.Sprintf("turns %d %d", e.turns.res, e.turns.cal)
	case byEnergy:
		return fmt.Sprintf("energy %d %d %d", e.energies[t.table].res, t.r1, t.r2)
	case byEdge:
		return fmt.Sprintf("edge %d %d", e.disj[t.table].res, t.r2)
	}
	return "none"
}
