package schedule

import (
	"context"
	"fmt"
	"io"
	"strings"
)

// The levels of the objective, in the order in which they are minimised.
const (
	Lateness     = iota // sum over projects of weight x ticks late
	Finish              // the last end
	SetupChanges        // number of set-up changes
	StartSum            // sum of all starts
	NumLevels
)

var levelNames = [NumLevels]string{"lateness", "finish", "set-up changes", "sum of starts"}

// Level is what is known of one objective level, given that all levels before
// it have their value.
type Level struct {
	Name   string
	Value  int64 // of the schedule returned
	Bound  int64 // no schedule with the values above has less
	Proved bool  // Value == Bound, by proof, and so are all levels above
}

// Progress is a report on the search under way.
type Progress struct {
	Level  int // the level being minimised
	Values [NumLevels]int64
	Bound  int64 // of the level being minimised
	Work   int64 // work units spent so far
}

// Options steer Solve. The zero value is usable.
type Options struct {
	// Work is the budget in work units (about two million a second on a common
	// computer) for each worker; 0 is DefaultWork. A level that is not proved in
	// its share of the budget is held at the best value found. The result depends
	// on the problem, Hint, Seed, Work and Workers only, never on the clock, unless
	// the context ends first.
	Work int64
	// Seed varies the search. The default 0 is as good as any.
	Seed int64
	// Workers is the number of searches run side by side; 0 is 1.
	Workers int
	// Levels is the number of objective levels to minimise, in order; 0 is all.
	Levels int
	// Hint, optional, is a set of starts to begin from, such as the last plan.
	// It need not be feasible any more.
	Hint []int64
	// Progress, optional, is called from the solving goroutine on every better
	// schedule or bound.
	Progress func(Progress)
	// Proof, optional, receives the proof log that CheckProof replays.
	Proof io.Writer
}

// DefaultWork is the budget when Options.Work is 0.
const DefaultWork = 6_000_000

// Result is the best schedule found and what is proved about it.
type Result struct {
	Start, End []int64
	Changes    []Change
	Levels     [NumLevels]Level
	Work       int64 // work units spent
	Conflicts  int64 // dead ends met and learned from
}

// Proved reports whether the first n levels are proved best.
func (r *Result) Proved(n int) bool { return n <= 0 || r.Levels[n-1].Proved }

// InfeasibleError reports that no schedule exists, with the parts of the
// problem that together rule it out.
type InfeasibleError struct {
	Activities []int // involved, in order of the explanation
	Lags       []int // indices of the lags involved
	Resources  []int // resources involved
	Cycle      bool  // Activities and Lags form a cycle, in order
	What       string
}

func (e *InfeasibleError) Error() string { return "schedule: no schedule exists: " + e.What }

// ErrBudget reports that the work budget or the context ended before any
// schedule was found, and before it was proved that none exists.
type ErrBudget struct {
	Work  int64
	Cause error // the context's error, if it ended the search
}

func (e *ErrBudget) Error() string {
	if e.Cause != nil {
		return fmt.Sprintf("schedule: stopped after %d work units without a schedule: %v", e.Work, e.Cause)
	}
	return fmt.Sprintf("schedule: no schedule found within %d work units", e.Work)
}

func (e *ErrBudget) Unwrap() error { return e.Cause }

func nameList(p *Problem, acts []int) string {
	parts := make([]string, len(acts))
	for i, a := range acts {
		parts[i] = p.Activities[a].Name
		if parts[i] == "" {
			parts[i] = fmt.Sprintf("activity %d", a)
		}
	}
	return strings.Join(parts, ", ")
}

// Solve finds the best schedule it can within the budget. It returns a
// *ProblemError, an *InfeasibleError (with proof) or an *ErrBudget when there
// is no schedule to return. When the context ends, the best schedule so far is
// returned.
func Solve(ctx context.Context, p *Problem, opt Options) (*Result, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	m, err := compile(p)
	if err != nil {
		return nil, err
	}
	return m.solve(ctx, opt)
}
