package reckon

import (
	"fmt"
	"slices"
	"strings"

	"caul/job/measure"
)

// Kind is what an input is.
type Kind string

const (
	KindLength      Kind = "length"
	KindNumber      Kind = "number"
	KindCount       Kind = "count"
	KindPercent     Kind = "percent"
	KindTemperature Kind = "temperature"
	KindSpan        Kind = "time"
	KindChoice      Kind = "choice"
	KindText        Kind = "text"
)

// Input is one thing a sum has to be told.
type Input struct {
	Name     string   `json:"name"`
	Kind     Kind     `json:"kind"`
	Help     string   `json:"help"`
	Required bool     `json:"required,omitempty"`
	Default  string   `json:"default,omitempty"` // in an inch shop, and in any where Metric is empty
	Metric   string   `json:"metric_default,omitempty"`
	Choices  []string `json:"choices,omitempty"`
	Example  string   `json:"example,omitempty"`
}

// DefaultIn is the default in a shop's units; empty when there is none.
func (i Input) DefaultIn(u measure.Units) string {
	if u.System == measure.Metric && i.Metric != "" {
		return i.Metric
	}
	return i.Default
}

// Sum is one shop sum.
type Sum struct {
	Name   string  `json:"name"`
	Title  string  `json:"title"`
	Help   string  `json:"help"`
	Inputs []Input `json:"inputs"`

	work func(*args) (*Result, error)
}

// Value is one figure of the answer for a program to read: lengths in mm, areas in m², masses
// in g, forces in N, angles in degrees, times in s.
type Value struct {
	Name   string  `json:"name"`
	Text   string  `json:"text"`
	Number float64 `json:"number"`
	Unit   string  `json:"unit,omitempty"`
}

// Result is a sum worked out.
type Result struct {
	Sum     string   `json:"sum"`
	Title   string   `json:"title"`
	Answer  []string `json:"answer"`
	Working []string `json:"working"`
	Source  []string `json:"source"`
	Caution []string `json:"caution,omitempty"`
	Values  []Value  `json:"values"`
}

// InputError says which input of a sum cannot be used.
type InputError struct {
	Sum   string
	Input string
	Col   int // within the text given, from 1
	Msg   string
	Text  string
	Hint  string
}

func (e *InputError) Error() string {
	s := e.Msg
	if e.Input != "" {
		s = e.Input + ": " + s
	}
	if e.Text != "" {
		s += fmt.Sprintf(": %q", e.Text)
	}
	return s
}

// List gives the sums in the order a shop would look for them.
func List() []Sum { return slices.Clone(sums()) }

// Find gives the sum of this name.
func Find(name string) (Sum, bool) {
	for _, s := range sums() {
		if s.Name == name {
			return s, true
		}
	}
	return Sum{}, false
}

func sums() []Sum {
	return slices.Concat(truing(), moving(), buying(), gluing(), layingOut(), drilling(), converting())
}

// Run works out a sum from its inputs as text. Errors are *InputError.
func Run(name string, inputs map[string]string, u measure.Units) (*Result, error) {
	s, ok := Find(name)
	if !ok {
		var names []string
		for _, s := range sums() {
			names = append(names, s.Name)
		}
		return nil, &InputError{Msg: "no such sum", Text: name, Hint: suggest(name, names)}
	}
	a, err := s.read(inputs, u)
	if err != nil {
		return nil, err
	}
	r, err := s.work(a)
	if err != nil {
		if ie, ok := err.(*InputError); ok {
			ie.Sum = s.Name
			return nil, ie
		}
		return nil, &InputError{Sum: s.Name, Msg: err.Error()}
	}
	r.Sum = s.Name
	if r.Title == "" {
		r.Title = s.Title
	}
	return r, nil
}

// suggest names the nearest of a list, or the whole list when none is near.
func suggest(word string, list []string) string {
	best, dist := "", 1000
	for _, w := range list {
		if d := distance(strings.ToLower(word), w); d < dist {
			best, dist = w, d
		}
	}
	if len(word) > 0 && dist <= 1+len(word)/3 {
		return "did you mean " + best + "?"
	}
	return "there are: " + strings.Join(list, ", ")
}

// distance is the number of letters to change, add or take away (Levenshtein 1966).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 60 {
		return 1000
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range x {
		diag := row[0]
		row[0] = i + 1
		for j, c := range y {
			cost := 1
			if r == c {
				cost = 0
			}
			diag, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diag+cost)
		}
	}
	return row[len(y)]
}
