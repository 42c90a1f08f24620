package measure

import (
	"maps"
	"math/big"
	"slices"
	"strings"
)

// ResolveError is what stopped one named measure of a set from being worked out.
type ResolveError struct {
	Name  string   // the measure whose sum is at fault
	Cycle []string // the whole round when the fault is a cycle: a, b, c, a
	Err   error    // a *ParseError positioned in that measure's text; nil for a cycle
}

func (e *ResolveError) Error() string {
	if len(e.Cycle) > 0 {
		return "measures refer to each other in a circle: " + strings.Join(e.Cycle, " -> ")
	}
	return e.Name + ": " + e.Err.Error()
}

func (e *ResolveError) Unwrap() error { return e.Err }

// Column is where in the measure's text the fault is, counted in characters from 1.
func (e *ResolveError) Column() int {
	if pe, ok := e.Err.(*ParseError); ok {
		return pe.Col
	}
	return 1
}

// ResolveAll works out a set of named measures that may refer to one another. Exact fractions
// pass from one to the next, so that a third of a width taken three times is the width; each
// Value is rounded once, for itself. Every measure that can be worked out is in the result;
// errs holds one error for each measure at fault, in order of name, and one for each cycle.
// A measure that only builds on a faulty one is left out without an error of its own.
func ResolveAll(exprs map[string]*Expr) (values map[string]Value, errs []*ResolveError) {
	values = map[string]Value{}
	exact := map[string]*big.Rat{}
	const (
		fresh = iota
		open
		done
	)
	state := map[string]int{}
	var stack []string
	inCycle := map[string]bool{}
	var visit func(name string)
	visit = func(name string) {
		state[name] = open
		stack = append(stack, name)
		e := exprs[name]
		sound := true
		for _, dep := range e.names {
			if _, known := exprs[dep]; !known {
				continue // reported by rat with its position
			}
			switch state[dep] {
			case fresh:
				visit(dep)
			case open:
				i := slices.Index(stack, dep)
				errs = append(errs, cycleError(stack[i:]))
				for _, n := range stack[i:] {
					inCycle[n] = true
				}
			}
			if exact[dep] == nil {
				sound = false
			}
		}
		stack = stack[:len(stack)-1]
		state[name] = done
		if inCycle[name] {
			return
		}
		r, err := e.rat(func(n string) (*big.Rat, bool) {
			v, ok := exact[n]
			if !ok {
				_, ok = exprs[n]
				v = new(big.Rat) // stands in: this measure is dropped below
			}
			return v, ok
		})
		if !sound {
			// only an unknown name is worth telling; other errors come from the stand-ins
			if pe, ok := err.(*ParseError); ok && pe.Msg == msgNoName {
				errs = append(errs, &ResolveError{Name: name, Err: err})
			}
			return
		}
		var v Value
		if err == nil {
			v, err = e.round(r)
		}
		if err != nil {
			errs = append(errs, &ResolveError{Name: name, Err: err})
			return
		}
		exact[name], values[name] = r, v
	}
	for _, name := range slices.Sorted(maps.Keys(exprs)) {
		if state[name] == fresh {
			visit(name)
		}
	}
	slices.SortStableFunc(errs, func(a, b *ResolveError) int { return strings.Compare(a.Name, b.Name) })
	return values, errs
}

// cycleError names the round from its first name in order, whatever the walk began with.
func cycleError(round []string) *ResolveError {
	i := slices.Index(round, slices.Min(round))
	c := append(slices.Clone(round[i:]), round[:i]...)
	return &ResolveError{Name: c[0], Cycle: append(c, c[0])}
}
