package site

import (
	"errors"
	"html/template"
	"time"

	"caul/job"
)

func (r *renderer) funcs() template.FuncMap {
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
		"stateClass": func(s job.State) string {
			switch s {
			case job.InClamps:
				return "clamps"
			case job.OnBench:
				return "bench"
			case job.Done:
				return "done"
			}
			return "other"
		},
		"stamp": func(t time.Time) string { return t.Format("2 January 2006, 15:04") },
	}
}

// when writes an instant as a maker says it, in the shop's zone.
func (r *renderer) when(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(r.zone()).Format("Mon 2 Jan, 15:04")
}

func (r *renderer) iso(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(r.zone()).Format(time.RFC3339)
}
