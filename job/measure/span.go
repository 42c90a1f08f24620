package measure

import (
	"fmt"
	"math/big"
	"strings"
	"time"
	"unicode"
)

// Span is an exact length of time in whole seconds. It is never a number of days: a glue that
// wants 24 hours wants them whether or not the clocks change that night.
type Span int64

const (
	Second Span = 1
	Minute Span = 60
	Hour   Span = 3600

	// MaxSpan is the longest span that is read from text: 100,000 hours, over eleven years.
	MaxSpan = 100_000 * Hour
)

// Duration is the span as the standard library has it.
func (s Span) Duration() time.Duration { return time.Duration(s) * time.Second }

// SpanOf rounds a duration to whole seconds.
func SpanOf(d time.Duration) Span { return Span(d.Round(time.Second) / time.Second) }

// Minutes is the span in minutes, a started minute counted whole.
func (s Span) Minutes() int64 {
	m := int64(s / Minute)
	if s%Minute > 0 {
		m++
	}
	return m
}

// MinutesUp is the span in whole minutes, rounded up: a wait is never told short.
func (s Span) MinutesUp() Span { return Span(s.Minutes()) * Minute }

// MinuteUp rounds an instant up to a whole minute, for the end of a wait.
func MinuteUp(t time.Time) time.Time {
	if m := t.Truncate(time.Minute); m.Before(t) {
		return m.Add(time.Minute)
	}
	return t
}

// Hours is the span in hours, for physics and show.
func (s Span) Hours() float64 { return float64(s) / float64(Hour) }

// ParseSpan reads `40 min`, `1 h 30 min`, `1.5 h`, `24 h`, `90 s`, `1h30`, each part once and in
// falling order. Days and weeks are refused: a day is 23 to 25 hours. A bare number is refused.
// A span finer than a second or over 100,000 h is refused. Errors are *ParseError.
func ParseSpan(text string) (Span, error) {
	s, err := startScan(text, "a time")
	if err != nil {
		return 0, err
	}
	start := s.pos
	neg := isMinus(s.peek())
	if neg {
		s.pos++
		s.skip()
	}
	total := new(big.Rat)
	last := Span(0)
	for !s.eof() {
		at := s.pos
		v, _, err := s.number(false)
		if err != nil {
			return 0, err
		}
		numEnd := s.pos
		s.skip()
		if s.peek() == ':' {
			return 0, s.fail(at, len(s.r), "this could be a time of day or a length of time", "write 1 h 30 min")
		}
		wordAt := s.pos
		for unicode.IsLetter(s.peek()) {
			s.pos++
		}
		word := strings.ToLower(s.text(wordAt))
		unit, hint := spanUnit(word)
		switch {
		case word == "" && s.eof() && last == Hour:
			unit = Minute // 1h30
		case word == "":
			return 0, s.fail(at, numEnd, "a time without a unit", "write min, h or s")
		case unit == 0:
			return 0, s.fail(wordAt, s.pos, "unknown unit of time", hint)
		}
		if last != 0 && unit >= last {
			return 0, s.fail(at, s.pos, "hours, minutes and seconds go in this order, each once", "")
		}
		last = unit
		total.Add(total, v.Mul(v, new(big.Rat).SetInt64(int64(unit))))
		s.skip()
	}
	if last == 0 {
		return 0, s.fail(start, len(s.r), "a time without a number", "write 40 min or 1 h 30 min")
	}
	if !total.IsInt() {
		return 0, s.fail(start, len(s.r), "finer than a second", "")
	}
	if total.Cmp(new(big.Rat).SetInt64(int64(MaxSpan))) > 0 {
		return 0, s.fail(start, len(s.r), "longer than 100,000 hours", "")
	}
	out := Span(total.Num().Int64())
	if neg {
		out = -out
	}
	return out, nil
}

func spanUnit(w string) (Span, string) {
	switch w {
	case "h", "hr", "hrs", "hour", "hours":
		return Hour, ""
	case "min", "mins", "minute", "minutes", "m":
		return Minute, ""
	case "s", "sec", "secs", "second", "seconds":
		return Second, ""
	case "d", "day", "days":
		return 0, "a day may have 23, 24 or 25 hours: write 24 h"
	case "w", "wk", "week", "weeks":
		return 0, "write hours: a week is 168 h"
	}
	return 0, "write min, h or s"
}

// String writes the span as `1 h 30 min`, `40 min`, `90 s` under two minutes when odd seconds count.
func (s Span) String() string {
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	var parts []string
	if h := s / Hour; h > 0 {
		parts = append(parts, fmt.Sprintf("%d h", h))
	}
	if m := s % Hour / Minute; m > 0 {
		parts = append(parts, fmt.Sprintf("%d min", m))
	}
	if sec := s % Minute; sec > 0 {
		parts = append(parts, fmt.Sprintf("%d s", sec))
	}
	if len(parts) == 0 {
		return "0 min"
	}
	return sign + strings.Join(parts, " ")
}
