package plan

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
)

// day writes a date as a maker says it: "Sat 14 Mar", with the year when it is
// not the year of ref.
func dayWords(t, ref time.Time) string {
	if t.Year() != ref.In(t.Location()).Year() {
		return t.Format("Mon 2 Jan 2006")
	}
	return t.Format("Mon 2 Jan")
}

// when writes an instant: "Sat 14 Mar 09:10".
func when(t, ref time.Time) string { return dayWords(t, ref) + t.Format(" 15:04") }

// whenNear leaves the date out on the day of ref.
func whenNear(t, ref time.Time) string {
	if dateOf(t) == dateOf(ref.In(t.Location())) {
		return t.Format("15:04")
	}
	return when(t, ref)
}

// spanWords writes a duration in hours and minutes, a started minute whole.
func spanWords(d time.Duration) string {
	m := int64(d / time.Minute)
	if d%time.Minute > 0 {
		m++
	}
	return (measure.Span(m) * measure.Minute).String()
}

// longWords writes a duration; from two days on in days and hours.
func longWords(d time.Duration) string {
	if d < 48*time.Hour {
		return spanWords(d)
	}
	h := int(d.Round(time.Hour) / time.Hour)
	if h%24 == 0 {
		return count(h/24, "day")
	}
	return fmt.Sprintf("%s %d h", count(h/24, "day"), h%24)
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}

// count writes a number with its noun: "1 clamp", "4 clamps".
func count(n int, word string) string { return fmt.Sprintf("%d %s", n, plural(n, word)) }

// list joins words as a sentence does: "a, b and c".
func list(parts []string) string {
	switch len(parts) {
	case 0:
		return ""
	case 1:
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// posWords writes a place in a file, as far as it is known.
func posWords(p job.Pos) string {
	switch {
	case p.File == "":
		return ""
	case p.Line == 0:
		return p.File
	case p.Col == 0:
		return fmt.Sprintf("%s:%d", p.File, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col)
}

// sortedKeys gives the keys of a map of counts in order.
func sortedKeys(m map[string]int) []string {
	ids := make([]string, 0, len(m))
	for id := range m {
		ids = append(ids, id)
	}
	sort.Strings(ids)
	return ids
}
