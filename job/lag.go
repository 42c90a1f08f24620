package job

import (
	"errors"
	"strings"

	"caul/job/measure"
)

const lagHint = "write a step, `core cured`, `core clamps-off`, `mill + 2 h`, `within 24 h of first-coat` or `30 min to 60 min after core clamps-on`"

// moments are the words for the moments of a step.
var moments = map[string]LagFrom{
	"done": FromDone, "begun": FromBegun, "clamps-on": FromClampsOn, "clamps-off": FromOff, "cured": FromCured,
}

// ParseLag reads one entry of `after:`.
//
//	mill                                  once mill is done
//	core cured                            once the glue may be machined
//	core clamps-off, core clamps-on, mill begun
//	mill + 2 h                            two hours after mill is done
//	core clamps-off + 12 h
//	within 24 h of first-coat             after first-coat, begun at most 24 h later
//	2 h to 24 h after first-coat          at least, at most
//	30 min to 60 min after core clamps-on
func ParseLag(text string) (Lag, error) { return parseLag(text, false) }

func parseLag(text string, needMost bool) (Lag, error) {
	l := Lag{Src: text}
	t := strings.Join(strings.Fields(text), " ")
	what := t
	switch {
	case strings.HasPrefix(t, "within "):
		rest := strings.TrimPrefix(t, "within ")
		sp, tail, ok := strings.Cut(rest, " of ")
		if !ok {
			return l, errors.New("`of` and a step are missing")
		}
		most, err := measure.ParseSpan(sp)
		if err != nil {
			return l, err
		}
		l.Most, l.HasMost, what = most, true, tail
	case strings.Contains(t, " after "):
		sp, tail, _ := strings.Cut(t, " after ")
		least, most, two := strings.Cut(sp, " to ")
		var err error
		if l.Least, err = measure.ParseSpan(least); err != nil {
			return l, err
		}
		if two {
			if l.Most, err = measure.ParseSpan(most); err != nil {
				return l, err
			}
			l.HasMost = true
		}
		what = tail
	case strings.Contains(t, " + "):
		tail, sp, _ := strings.Cut(t, " + ")
		var err error
		if l.Least, err = measure.ParseSpan(sp); err != nil {
			return l, err
		}
		what = tail
	}
	if l.Least < 0 || l.Most < 0 {
		return l, errors.New("a wait cannot be negative")
	}
	if l.HasMost && l.Most < l.Least {
		return l, errors.New("the most is less than the least")
	}
	if l.HasMost && l.Most == 0 {
		return l, errors.New("the most is zero")
	}
	if needMost && !l.HasMost {
		return l, errors.New("least and most are wanted")
	}
	step, moment, has := strings.Cut(what, " ")
	l.From = FromDone
	if has {
		f, ok := moments[moment]
		if !ok {
			if n := nearest(moment, []string{"done", "begun", "clamps-on", "clamps-off", "cured"}); n != "" {
				return l, errors.New("no such moment; did you mean `" + n + "`")
			}
			return l, errors.New("no such moment")
		}
		l.From = f
	}
	if !idShape.MatchString(step) {
		return l, errors.New("a step's id is missing")
	}
	l.Step = step
	return l, nil
}
