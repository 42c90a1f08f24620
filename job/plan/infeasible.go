package plan

import (
	"errors"
	"time"

	"caul/job"
	"caul/job/measure"
)

// Options steer Make.
type Options struct {
	Jobs     []string // ids of the jobs to plan; empty: every job
	Budget   int64    // work units for the search; 0 is a default
	Workers  int      // searches side by side; 0 is 1
	Explain  bool     // say what binds the finish, step by step
	Helps    bool     // solve the variants that might help, too
	Progress func(Progress)
	levels   int // objective levels to search, 0 is all
}

// Progress is a report while a plan is being worked out.
type Progress struct {
	Finish   time.Time // of the best plan so far
	Earliest time.Time // no plan can finish before
	What     string    // what is being worked out: "the plan", or the variant tried
}

// Infeasible says that the work cannot be planned at all: which step, which
// window, and the smallest change that would do.
type Infeasible struct {
	Job    string       `json:"job,omitempty"`
	Step   string       `json:"step,omitempty"`
	At     job.Pos      `json:"at"`
	What   string       `json:"what"`
	Window *Stretch     `json:"window,omitempty"` // the window that comes nearest
	Needs  measure.Span `json:"needs,omitempty"`  // what is wanted of it
	Change string       `json:"change"`           // the smallest change that would do
}

func (e *Infeasible) Error() string {
	s := e.What
	if p := posWords(e.At); p != "" {
		s = p + ": " + s
	}
	return s
}

// Hint is the smallest change that would do.
func (e *Infeasible) Hint() string { return e.Change }

// ErrNoTime reports that the search was stopped, or ran out of its budget,
// before it found any plan.
var ErrNoTime = errors.New("the search ended before any plan was found")
