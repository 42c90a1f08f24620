package site

import (
	"errors"
	"html/template"
	"strings"
	"time"

	"caul/job"
)

func funcs() template.FuncMap {
	return template.FuncMap{
		"dict": func(kv ...any) (map[string]any, error) {
			if len(kv)%2 != 0 {
				return nil, errors.New("dict wants pairs")
			}
			m := map[string]any{}
			for i := 0; i < len(kv); i += 2 {
				m[kv[i].(string)] = kv[i+1]
			}
			return m, nil
		},
		"stateClass": func(s job.State) string { return strings.ReplaceAll(string(s), " ", "-") },
		"inc":        func(n int) int { return n + 1 },
		"plural": func(n int, one, more string) string {
			if n == 1 {
				return one
			}
			return more
		},
	}
}

// when writes an instant as a maker says it, in the shop's zone; the year only
// where it is another.
func (r *renderer) when(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	t = t.In(r.zone())
	if t.Year() != r.in.Now.In(r.zone()).Year() {
		return t.Format("Mon 2 Jan 2006, 15:04")
	}
	return t.Format("Mon 2 Jan, 15:04")
}

// span writes a stretch of time, naming the day once.
func (r *renderer) span(from, to time.Time) string {
	to = to.In(r.zone())
	f := from.In(r.zone())
	if f.YearDay() == to.YearDay() && f.Year() == to.Year() {
		return r.when(from) + "–" + to.Format("15:04")
	}
	return r.when(from) + " to " + r.when(to)
}

// day writes a date.
func (r *renderer) day(t time.Time) string { return t.In(r.zone()).Format("2 Jan 2006") }

func (r *renderer) iso(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(r.zone()).Format(time.RFC3339)
}
